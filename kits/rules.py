"""The rules of this app that the database keeps: the guard across its tables, and the sentence of each rule."""

from kits.promises import NeverBoth, Span, register, say

SENTENCES = {
    "user_role_known": "Choose one of the roles: office, technician, manager.",
    "user_has_a_name": "Give the person's name.",
    "one_shop_only": "There is one shop already.",
    "shop_unit_known": "Choose °F or °C.",
    "kit_code_valid": "That is not a valid kit code: its check character does not fit.",
    "kits_kit.code": "Another kit has this code.",
    "kit_sensor_limit": "A kit has between one and five terminals.",
    "kit_power_input_known": "Choose one of the power inputs.",
    "kit_condition_known": "A kit is in service or needs work.",
    "kit_needs_work_says_why": "Say what is wrong with the kit.",
    "part_quantity_at_least_one": "Give a quantity of at least one.",
    "kit_in_one_custody": "This kit would be in two places at once. Look where it is now, then move it from there.",
    "one_open_custody": "This kit is in one place at a time. Look where it is now, then move it from there.",
    "custody_ends_after_start": "The kit came to its present place only after that time. Give a later time.",
    "a_truck_has_a_technician": "Say whose truck.",
    "custody_place_known": "Choose one of the places.",
    "sensor_rom_valid": "That is no ROM ID of a sensor: its last two digits do not fit the others.",
    "kits_sensor.rom": "The shop has a sensor with this ROM ID already.",
    "sensor_colour_known": "Choose one of the tape colours.",
    "sensor_in_one_kit": "This sensor is wired into another kit then. Take it out there first.",
    "one_sensor_a_terminal": "Another sensor is on that terminal then. Choose another terminal.",
    "terminal_one_to_five": "Terminals are numbered 1 to 5.",
    "wiring_ends_after_start": "The sensor was wired in only after that time. Give a later time.",
    "spare_in_one_place": "This sensor is kept in another place then.",
    "spare_ends_after_start": "The sensor came to its present place only after that time. Give a later time.",
    "a_spare_on_a_truck_has_a_technician": "Say whose truck.",
    "spare_place_known": "Choose one of the places.",
    "sensor_wired_or_spare": "A sensor is in a kit or kept as a spare, never both at once.",
    "one_offset_an_instant": "This sensor has an offset from that very instant already. Give a later time.",
    "offset_believable": "An offset of more than 20 K is no offset: the sensor is broken. Replace it.",
    "uncertainty_not_negative": "An uncertainty is not negative.",
    "offset_never_changes": "An offset is never changed. Enter a new one; it takes over from its instant on.",
    "event_never_changes": "What happened is never changed. Record what happened since.",
    "event_about_never_changes": "What happened is never changed. Record what happened since.",
    "event_says_who_did_it": "Say who did it.",
    "one_event_a_request": "This was recorded already.",
    "one_receipt_a_request": "This was recorded already.",
    "follow_up_done_by_somebody": "Say who did it.",
    "shelf_count_never_changes": "A shelf count is never changed. Count again.",
}


def declare() -> None:
    """Hand the guard and the sentences to the promises. Called once, when the app is ready."""
    for name, sentence in SENTENCES.items():
        say(name, sentence)
    register(
        NeverBoth(
            "sensor_wired_or_spare",
            first=Span("kits_wiring", "wired_from", "wired_until"),
            second=Span("kits_spareplace", "kept_from", "kept_until"),
            same="sensor_id",
            owner_table="kits_sensor",
        )
    )
