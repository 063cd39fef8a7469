"""Addresses of signing in and of health."""

from django.urls import path

from showrun.shows.web import guides, health, join, language, passkeys, people, plan, sign_in

app_name = "shows"
urlpatterns = [
    path("healthz", health.health, name="health"),
    path("readyz", health.ready, name="ready"),
    path("language/", language.choose_language, name="language"),
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("sign-in/sent/", sign_in.sent, name="sign-in-sent"),
    path("sign-in/link/", sign_in.sign_in_link, name="sign-in-link"),
    path("sign-in/join/", join.join, name="join"),
    path("sign-in/passkey/", passkeys.sign_in_by_passkey, name="passkey-sign-in"),
    path("sign-in/passkey/question/", passkeys.question, name="passkey-question"),
    path("account/passkeys/", passkeys.passkeys, name="passkeys"),
    path("account/passkeys/question/", passkeys.question_for_new, name="passkey-new-question"),
    path("sign-out/", sign_in.sign_out, name="sign-out"),
    path("sign-out/everywhere/", sign_in.everywhere, name="sign-out-everywhere"),
    path("guides/", guides.guides, name="guides"),
    path("guides/<str:guide_name>/", guides.guide, name="guide"),
    path("plan-a-show/", plan.plan, name="plan"),
    path("shows/<slug:slug>/office/people/", people.people, name="people"),
]
