"""The map of this app: spreadsheets in and out, labels and printers, stays and papers."""

from django.urls import path

from reports.views import exports, imports, labels, papers, stays

urlpatterns = [
    path("import/", imports.import_start, name="import_start"),
    path("import/<int:pk>/", imports.import_file, name="import_file"),
    path("import/<int:pk>/columns/", imports.import_columns, name="import_columns"),
    path("import/<int:pk>/as/<slug:kind>/", imports.import_as, name="import_as"),
    path("import/<int:pk>/refused.csv", imports.import_refused, name="import_refused"),
    path("export/", exports.exports, name="exports"),
    path("export/<slug:table>.<str:file_kind>", exports.export_table, name="export_table"),
    path("papers/labels/", labels.labels, name="labels"),
    path("papers/labels/test-sheet.pdf", labels.test_sheet, name="label_test_sheet"),
    path("papers/printers/", labels.printers, name="label_printers"),
    path("papers/printers/new/", labels.printer_new, name="label_printer_new"),
    path("papers/printers/<int:pk>/", labels.printer, name="label_printer"),
    path("papers/technicians-card.pdf", papers.quick_card, name="quick_card"),
    path("checks/<int:pk>/record.pdf", papers.check_record, name="check_record"),
    path("stays/<int:pk>/", stays.stay_page, name="stay"),
    path("stays/<int:pk>/findings/", stays.findings, name="findings"),
    path("stays/<int:pk>/shop-copy.pdf", papers.shop_copy, name="shop_copy"),
    path("stays/<int:pk>/customer-copy.pdf", papers.customer_copy, name="customer_copy"),
    path("stays/<int:pk>/card.pdf", papers.card, name="leave_behind_card"),
    path("stays/<int:pk>/leaving-slip.pdf", papers.slip, name="leaving_slip"),
]
