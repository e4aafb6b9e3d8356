//! One form for every address that does something, in an order in which each finds what it needs: who sends it, from which page,
//! what is typed, and what the second of two clicks may bring.

use super::Second::{self, Again, Anew, Nothing, Same, SignsOut};
use super::Who::{self, As, Coded, HalfWay, Nobody, Of, SettingUp};
use crate::support::app::PASSWORD;
use sootmark::domain::people::Role::{Administrator, ServiceManager, Technician, Trainer};

/// A form that is sent twice.
pub(super) struct Case {
    /// The row of the table.
    pub(super) route: &'static str,
    /// Who sends it.
    pub(super) who: Who,
    /// The page that it stands on; a form that is reached by sending another: the page, a space, and where that one goes.
    pub(super) page: &'static str,
    /// Where it goes.
    pub(super) to: &'static str,
    /// What is typed over what the page brings along.
    pub(super) typed: &'static [(&'static str, &'static str)],
    /// What the second click brings.
    pub(super) second: Second,
}

const fn case(
    route: &'static str,
    who: Who,
    (page, to): (&'static str, &'static str),
    typed: &'static [(&'static str, &'static str)],
    second: Second,
) -> Case {
    Case { route, who, page, to, typed, second }
}

const SAVED_AGAIN: &str = "what is saved once more is the same; beside it stands how often, and when last";
const NEW: &str = "mill pond lantern";
const STRAW: &str = "/templates/fire/straw-under-the-boom";

/// Every one of them. The words in braces are those of [`super::world::World`]; `{this=that}` is typed over this in what the field
/// holds.
pub(super) const CASES: &[Case] = &[
    case(
        "/sign-in",
        Nobody,
        ("/sign-in", "/sign-in"),
        &[("email", "technician@example.org"), ("password", PASSWORD)],
        Anew(
            "session",
            "each is signed in by the right password; the browser keeps the last one, the other one ends idle",
        ),
    ),
    case("/sign-out", Of(Technician), ("/account", "/sign-out"), &[], Same),
    case("/account/units", Of(Technician), ("/account", "/account/units"), &[("unit", "fahrenheit")], Same),
    case("/account/letters", Of(Technician), ("/account", "/account/letters"), &[("expiry", "no")], Same),
    case("/account/sessions", Of(Trainer), ("/account/sessions", "/account/sessions"), &[("session", "others")], Same),
    case(
        "/account/password",
        As("changer@example.org"),
        ("/account", "/account/password"),
        &[("old_password", PASSWORD), ("password", NEW), ("again", NEW)],
        SignsOut,
    ),
    case(
        "/account/one-time-codes",
        As("coded@example.org"),
        ("/account/one-time-codes", "/account/one-time-codes"),
        &[("code", "{code}"), ("password", PASSWORD)],
        SignsOut,
    ),
    case(
        "/sign-in/code",
        HalfWay("coded@example.org"),
        ("/sign-in/code", "/sign-in/code"),
        &[("code", "{code}")],
        SignsOut,
    ),
    case(
        "/account/one-time-codes/recovery",
        Coded("coded@example.org"),
        ("/account/one-time-codes", "/account/one-time-codes/recovery"),
        &[("recovery_code", "{code}")],
        Same,
    ),
    case(
        "/account/one-time-codes/remove",
        Coded("coded@example.org"),
        ("/account/one-time-codes", "/account/one-time-codes/remove"),
        &[("remove_code", "{code}")],
        Same,
    ),
    case(
        "/sign-in/set-up",
        SettingUp("coded@example.org"),
        ("/sign-in/set-up", "/sign-in/set-up"),
        &[("code", "{code}")],
        SignsOut,
    ),
    case(
        "/people/{id}/one-time-codes",
        Of(Administrator),
        ("/people/{lost}", "/people/{lost}/one-time-codes"),
        &[("codes_reason", "We spoke by telephone.")],
        Same,
    ),
    case("/letters/stop/{secret}", Nobody, ("/letters/stop/{stop}", "/letters/stop/{stop}"), &[], Same),
    case(
        "/people/invite",
        Of(ServiceManager),
        ("/people/invite", "/people/invite"),
        &[("name", "Test newcomer"), ("email", "newcomer@example.org"), ("branch", "1"), ("role", "technician")],
        Same,
    ),
    case(
        "/invitation",
        Nobody,
        ("/invitation/{letter}", "/invitation"),
        &[("password", NEW), ("again", NEW)],
        Anew(
            "session",
            "whoever has the link and types the password that it was used for signs in with it, as with the address",
        ),
    ),
    case(
        "/people/import",
        Of(Administrator),
        ("/people/import", "/people/import"),
        &[("roster", "name,email,branch,role\nTest roster,roster@example.org,Coldbrook,technician\n")],
        Same,
    ),
    case("/people/{id}/invitation", Of(Administrator), ("/people/1", "/people/1/invitation"), &[], Same),
    case("/people/{id}", Of(Administrator), ("/people/5", "/people/5"), &[("role", "trainer")], Same),
    case(
        "/people/{id}/time",
        Of(ServiceManager),
        ("/people/1/time", "/people/1/time"),
        &[("kind", "percent"), ("amount", "25"), ("reason", "Reads with a glass.")],
        Same,
    ),
    case("/people/{id}/trainer", Of(ServiceManager), ("/people/1", "/people/1/trainer"), &[("trainer", "2")], Same),
    case("/examine/{scheme}", As("sitter@example.org"), ("/examine", "/examine/first-day"), &[], Same),
    case(
        "/examine/sitting/{id}/{position}/flag",
        As("sitter@example.org"),
        ("/examine/sitting/{sitting}/1", "/examine/sitting/{sitting}/1/flag"),
        &[("flag", "yes")],
        Same,
    ),
    case(
        "/examine/sitting/{id}/{position}",
        As("sitter@example.org"),
        ("/examine/sitting/{sitting}/1", "/examine/sitting/{sitting}/1"),
        &[],
        Again("response", SAVED_AGAIN),
    ),
    case(
        "/examine/sitting/{id}/submit",
        As("sitter@example.org"),
        ("/examine/sitting/{sitting}/review", "/examine/sitting/{sitting}/submit"),
        &[],
        Same,
    ),
    case("/invigilate", Of(Trainer), ("/invigilate", "/invigilate"), &[("scheme", "service-technician")], Same),
    case(
        "/invigilate/{id}/sittings/{attempt}",
        Of(Trainer),
        ("/invigilate/1", "/invigilate/1/sittings/8"),
        &[("deed", "note"), ("text-8", "A telephone rang.")],
        Same,
    ),
    case("/invigilate/{id}/close", Of(Trainer), ("/invigilate/1", "/invigilate/1/close"), &[], Same),
    case(
        "/observe",
        Of(Trainer),
        ("/observe", "/observe"),
        &[("person", "1"), ("task", "daily-check"), ("machine", "tarrel-60")],
        Same,
    ),
    case(
        "/observe/{id}/steps/{position}",
        Of(Trainer),
        ("/observe/3", "/observe/3/steps/1"),
        &[("mark", "seen")],
        Again("observation_step", SAVED_AGAIN),
    ),
    case(
        "/observe/{id}/sign",
        Of(ServiceManager),
        ("/observe/4/review", "/observe/4/sign"),
        &[("assessor_password", PASSWORD), ("candidate_password", PASSWORD)],
        Same,
    ),
    case(
        "/branches",
        Of(Administrator),
        ("/branches", "/branches"),
        &[("name", "Millford"), ("time_zone", "UTC")],
        Same,
    ),
    case("/branches/{id}", Of(Administrator), ("/branches/1", "/branches/1"), &[("time_zone", "Europe/Dublin")], Same),
    case(
        "/debriefs/{id}",
        Of(Trainer),
        ("/debriefs/5", "/debriefs/5"),
        &[("note", "Went through it; said it back.")],
        Same,
    ),
    case("/decisions/{attempt}", Of(ServiceManager), ("/decisions/9", "/decisions/9"), &[("verdict", "granted")], Same),
    case(
        "/record/sitting/{attempt}/appeal",
        Of(Technician),
        ("/record/sitting/6/appeal", "/record/sitting/6/appeal"),
        &[("text", "The lamps were not lit.")],
        Same,
    ),
    case(
        "/decisions/{attempt}/appeal",
        As("manager@example.org"),
        ("/decisions/6", "/decisions/6/appeal"),
        &[("reason", "They were."), ("finding", "dismissed")],
        Same,
    ),
    case(
        "/decisions/certificates/{number}",
        Of(ServiceManager),
        ("/decisions/certificates/{certificate}", "/decisions/certificates/{certificate}"),
        &[("deed", "suspended"), ("reason", "Until the next visit.")],
        Same,
    ),
    case(
        "/learn/{module}/{lesson}/read",
        As("reader@example.org"),
        ("/learn/lamps/01-amber-and-red", "/learn/lamps/01-amber-and-red/read"),
        &[],
        Same,
    ),
    case("/practise/{module}", As("reader@example.org"), ("/learn/lamps", "/practise/lamps"), &[], Same),
    case(
        "/practise/question/{attempt}/{position}",
        As("reader@example.org"),
        ("/practise/question/{practice}/1", "/practise/question/{practice}/1"),
        &[("choice", "0")],
        Same,
    ),
    case(
        "/refreshers",
        Of(Trainer),
        ("/refreshers", "/refreshers"),
        &[("email", "technician@example.org"), ("kind", "near_miss"), ("text", "Drove on with the lamp lit.")],
        Same,
    ),
    case(
        "/assignments",
        Of(ServiceManager),
        ("/assignments", "/assignments"),
        &[("thing", "module:lamps"), ("group", ""), ("email", "technician@example.org"), ("due", "2026-12-24")],
        Same,
    ),
    case(
        "/assignments/{id}/withdraw",
        Of(ServiceManager),
        ("/assignments/1", "/assignments/1/withdraw"),
        &[("reason", "Done.")],
        Same,
    ),
    case("/calendar", Of(ServiceManager), ("/calendar", "/calendar"), &[], Same),
    case("/keys", Of(ServiceManager), ("/keys", "/keys"), &[("label", "The workshop's screen")], Same),
    case("/keys/{id}/revoke", Of(ServiceManager), ("/keys", "/keys/1/revoke"), &[], Same),
    case(
        "/machines/check",
        Of(Trainer),
        ("/machines/tarrel-60/edit", "/machines/check"),
        &[("part_0", "{Tarrel 60=Tarrel 61}")],
        Nothing,
    ),
    case(
        "/machines/publish",
        Of(Trainer),
        ("/machines/tarrel-60/edit /machines/check", "/machines/publish"),
        &[("part_0", "{Tarrel 60=Tarrel 61}")],
        Same,
    ),
    case("/templates/new", Of(Trainer), ("/templates/new", "/templates/new"), &[("key", "fire/another")], Same),
    case(
        "/templates/{topic}/{name}/change",
        Of(Trainer),
        (STRAW, "/templates/fire/straw-under-the-boom/change"),
        &[],
        Same,
    ),
    case(
        "/templates/drafts/{id}",
        Of(Trainer),
        ("/templates/drafts/{draft}", "/templates/drafts/{draft}"),
        &[("text", "{Straw under the boom=Straw below the boom}"), ("deed", "keep")],
        Same,
    ),
    case(
        "/templates/drafts/{id}",
        Of(Trainer),
        ("/templates/drafts/{draft}", "/templates/drafts/{draft}"),
        &[("deed", "send")],
        Same,
    ),
    case(
        "/templates/drafts/{id}/review",
        As("reviewer@example.org"),
        ("/templates/drafts/{draft}/review", "/templates/drafts/{draft}/review"),
        &[("remark", "Which barn?"), ("deed", "send_back")],
        Same,
    ),
    case(
        "/templates/drafts/{id}",
        Of(Trainer),
        ("/templates/drafts/{draft}", "/templates/drafts/{draft}"),
        &[("deed", "send")],
        Same,
    ),
    case(
        "/templates/drafts/{id}/review",
        As("reviewer@example.org"),
        ("/templates/drafts/{draft}/review", "/templates/drafts/{draft}/review"),
        &[("remark", "Read and tried."), ("deed", "approve")],
        Same,
    ),
    case(
        "/templates/{topic}/{name}/retire",
        Of(Trainer),
        ("/templates/fire/straw-under-the-boom/retire", "/templates/fire/straw-under-the-boom/retire"),
        &[("reason", "Nobody stacks straw there."), ("though_needed", "yes")],
        Same,
    ),
];

/// What cannot be asked in this way, and where it is asked instead.
pub(super) const ELSEWHERE: &[(&str, &str)] = &[(
    "/forgotten",
    "the reply leaves before anything is looked up: of_two_who_forgot_at_once_one_letter_is_written asks the deed",
)];
