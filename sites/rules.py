"""The rules of this app that the database keeps: the guard across its tables, and the sentence of each rule."""

from kits.promises import Covered, Span, register, say
from kits.promises.guard_kinds import Through

TAX_BELOW_ALL = "A tax rate is a percentage from 0 to below 100."

SENTENCES = {
    "customer_has_a_name": "Give the customer's name.",
    "site_has_a_street": "Give the street.",
    "site_has_a_time_zone": "Give the time zone of the site, like America/New_York.",
    "site_coordinates_on_earth": "Give both latitude (-90 to 90) and longitude (-180 to 180), or neither.",
    "party_ends_after_start": "That part began later than that. Give a later day.",
    "party_part_known": "Choose one of the parts.",
    "party_lives_there_once": "This customer lives there already.",
    "party_owns_once": "This customer owns it already.",
    "party_pays_once": "This customer pays already.",
    "party_may_say_yes_once": "This customer may say yes already.",
    "unit_name_once_a_site": "Another unit at this site has this name.",
    "unit_kind_known": "Choose one of the kinds of unit.",
    "unit_float_switch_known": "Choose what the float switch breaks.",
    "position_has_a_code": "Give the position a code of up to four letters.",
    "sites_position.code": "Another position has this code.",
    "agreement_ends_after_start": "The agreement must end after it begins.",
    "terms_never_change": "Terms are never changed. Write new ones, from the day they hold.",
    "one_set_of_terms_a_day": "There are terms from that very day already. Give a later day.",
    "one_price_list_a_day": "There is a price list from that very day already. Give a later day.",
    "terms_have_the_price_they_charge_by": "Give the price that these terms charge by.",
    "terms_minimum_below_cap": "The least a stay costs must not be above the most it costs.",
    "terms_have_a_currency": "Give the currency, like USD.",
    "terms_monitoring_tax_below_all": TAX_BELOW_ALL,
    "terms_set_up_tax_below_all": TAX_BELOW_ALL,
    "terms_lost_kit_tax_below_all": TAX_BELOW_ALL,
    "terms_parts_tax_below_all": TAX_BELOW_ALL,
    "terms_visit_tax_below_all": TAX_BELOW_ALL,
    "call_window_ends_after_start": "The window must end on or after the day it begins.",
    "call_reason_known": "Choose one of the reasons.",
    "sites_servicecall.number": "Another call got this number at the same moment. Send again.",
    "kit_in_one_place": "This kit is out on another call then. Bring that stay to its end first.",
    "kit_promised_once": "This kit is promised to another call in those days. Choose another kit or other days.",
    "hold_ends_after_start": "The kit must be back in the shop on a day after the stay begins.",
    "take_out_before_back_in_shop": "The kit cannot be back in the shop before it is taken out.",
    "loaded_after_planned": "The stay was planned later than that. Give a later time.",
    "installed_after_loaded": "A kit is installed after it was loaded, not before and not without.",
    "removed_after_installed": "A kit is taken out after it was installed, not before and not without.",
    "handed_back_after_removed": "A kit is handed back after it was taken out, not before and not without.",
    "called_off_before_installed": "The kit is in the house already. Take it out instead of calling off.",
    "not_recovered_after_loaded": "Only a kit that went out can be given up as not recovered.",
    "not_recovered_says_why": "Say what was tried to get the kit back.",
    "ended_in_one_way": "A stay ends in one way: back in shop, called off, or not recovered.",
    "ended_after_planned": "A stay ends after it was planned. Give a later time.",
    "ended_after_loaded": "A stay ends after the kit was loaded. Give a later time.",
    "ended_after_installed": "A stay ends after the kit was installed. Give a later time.",
    "ended_after_removed": "A stay ends after the kit was taken out. Give a later time.",
    "one_sensor_a_position": "Another sensor sits at that position then. Move that one first.",
    "one_position_a_sensor": "This sensor sits at another position then. One sensor measures one place.",
    "placement_ends_after_start": "The sensor came to that position later than that. Give a later time.",
    "placed_sensor_is_in_the_kit": (
        "A sensor can only measure while it is wired into the kit of the stay. "
        "If a lead is replaced in a running stay, swap the lead: placement and wiring follow together."
    ),
    "tap_place_known": "Say where the tap sits relative to the float switch.",
    "aux_contact_was_agreed": "Say when the auxiliary contact switches, and who agreed to it.",
    "hand_back_place_known": "Say where the kit was counted.",
    "one_reading_a_position_and_occasion": "Each position is read once at install and once at removal.",
    "sites_calendaraddress.token_sha256": "This calendar address is there already. Make another.",
    "one_live_calendar_address": "A person has one calendar address at a time. Revoke the former one first.",
    "calendar_address_revoked_after_made": "The calendar address was made later than that. Give a later time.",
    "one_day_sheet_a_day": "This person was sent the sheet of that day already.",
    "day_sheet_sent_never_changes": "What was sent stays written down.",
    "occasion_known": "A reading belongs to the install or the removal.",
}


def declare() -> None:
    """Hand the guard and the sentences to the promises. Called once, when the app is ready."""
    for name, sentence in SENTENCES.items():
        say(name, sentence)
    register(
        Covered(
            "placed_sensor_is_in_the_kit",
            child=Span("sites_placement", "placed_from", "placed_until"),
            parent=Span("kits_wiring", "wired_from", "wired_until"),
            same=("sensor_id", "sensor_id"),
            through=Through("sites_deployment", "deployment_id", "kit_id", "kit_id"),
        )
    )
