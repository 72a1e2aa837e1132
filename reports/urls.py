"""The map of this app: stays and papers."""

from django.urls import path

from reports.views import papers, stays

urlpatterns = [
    path("papers/labels/", papers.labels, name="labels"),
    path("stays/<int:pk>/", stays.stay_page, name="stay"),
    path("stays/<int:pk>/findings/", stays.findings, name="findings"),
    path("stays/<int:pk>/shop-copy.pdf", papers.shop_copy, name="shop_copy"),
    path("stays/<int:pk>/customer-copy.pdf", papers.customer_copy, name="customer_copy"),
    path("stays/<int:pk>/card.pdf", papers.card, name="leave_behind_card"),
    path("stays/<int:pk>/leaving-slip.pdf", papers.slip, name="leaving_slip"),
]
