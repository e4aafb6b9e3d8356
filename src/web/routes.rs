//! Every address of the program, once, with who may reach it.
//!
//! The macro makes two things out of one list: [`TABLE`], which the guard, the line of places and the tests read, and
//! [`configure`], which the server is built from. A route without a row cannot be written, because nothing else in the
//! program adds routes (`tests/permissions` looks for that too). To add a page: one line below.

use super::guard::guard;
use super::pages::{
    account, assets, assignments, bench, branches, calendar, check, debriefs, decisions, examine, forgotten, home,
    invigilate, invitation, issuer, keys, learn, letters, machines, observe, one_time_codes, people, practise,
    qualified, record, refreshers, sessions, sign_in, state, templates,
};
use crate::domain::people::{Permission, Role, allows};
use Access::{Halfway, Keyed, Needs, Public, SignedIn};
use Permission::{
    AssignWork, ChangePeople, DecideCertification, DescribeMachines, ExportQualifications, GrantExtraTime,
    HoldDebriefs, ImportPeople, Invigilate, InvitePeople, ManageAccessKeys, ManageBranches, NameTrainers,
    ObservePractice, RecordTriggers, ReviewTemplates, SeeLetters, SeeOwnRecord, SeePeople, SeeQualifications,
    SitExaminations, StudyModules, WriteTemplates,
};
use actix_web::middleware::from_fn;
use actix_web::web::{self, ServiceConfig};

/// One address of the program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RouteRow {
    /// How it is asked for.
    pub method: Verb,
    /// The path, with `{names}` for its changing parts.
    pub path: &'static str,
    /// Who may reach it.
    pub access: Access,
    /// The most bytes that it takes.
    pub body_limit: usize,
}

/// Reading or doing. Nothing is ever changed by reading; the record may tell that something was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verb {
    /// Shows something.
    GET,
    /// Does something.
    POST,
}

/// Who may reach an address.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Access {
    /// Anyone; nobody is looked up.
    Public,
    /// Whoever has given the right password and is not signed in yet.
    Halfway,
    /// Anyone who is signed in.
    SignedIn,
    /// Who is signed in and has this permission.
    Needs(Permission),
    /// Who is signed in and has this permission, and a program that brings an access key.
    Keyed(Permission),
}

impl Access {
    /// Whether somebody of this role is let through.
    #[must_use]
    pub const fn admits(self, role: Role) -> bool {
        match self {
            Self::Public | Self::Halfway | Self::SignedIn => true,
            Self::Needs(permission) | Self::Keyed(permission) => allows(role, permission),
        }
    }
}

/// What a form may weigh.
const FORM: usize = 64 * 1024;
/// What a roster or a template may weigh; what was typed before a session ended comes back with the sign-in.
pub(super) const UPLOAD: usize = 1024 * 1024;

macro_rules! routes {
    ($($method:ident $path:literal => $handler:path, $access:expr $(, $limit:ident)?;)+) => {
        /// Every address with who may reach it.
        pub static TABLE: &[RouteRow] = &[$(routes!(@row $method $path $access $(, $limit)?)),+];

        /// Puts every row of [`TABLE`] and nothing else into the server, each behind the guard.
        pub fn configure(server: &mut ServiceConfig) {
            $({
                static ROW: RouteRow = routes!(@row $method $path $access $(, $limit)?);
                let route = routes!(@method $method).to($handler);
                server.route($path, route.wrap(from_fn(|request, next| guard(&ROW, request, next))));
            })+
        }
    };
    (@row $method:ident $path:literal $access:expr) => { routes!(@row $method $path $access, FORM) };
    (@row $method:ident $path:literal $access:expr, $limit:ident) => {
        RouteRow { method: Verb::$method, path: $path, access: $access, body_limit: $limit }
    };
    (@method GET) => { web::get() };
    (@method POST) => { web::post() };
}

routes! {
    GET  "/"                        => home::show,             SignedIn;

    GET  "/sign-in"                 => sign_in::show,          Public;
    POST "/sign-in"                 => sign_in::submit,        Public, UPLOAD;
    POST "/sign-out"                => sign_in::leave,         SignedIn;
    GET  "/invitation/{token}"      => invitation::show,       Public;
    POST "/invitation"              => invitation::submit,     Public;

    GET  "/sign-in/code"            => one_time_codes::step,   Halfway;
    POST "/sign-in/code"            => one_time_codes::give,   Halfway, UPLOAD;
    GET  "/sign-in/set-up"          => one_time_codes::set_up, Halfway;
    POST "/sign-in/set-up"          => one_time_codes::confirm_first, Halfway;
    GET  "/forgotten"               => forgotten::show,        Public;
    POST "/forgotten"               => forgotten::ask,         Public;

    GET  "/account"                 => account::show,          SignedIn;
    POST "/account/password"        => account::password,      SignedIn;
    POST "/account/units"           => account::units,         SignedIn;

    POST "/account/letters"         => account::letters,       SignedIn;
    GET  "/letters"                 => letters::sent,          Needs(SeeLetters);
    GET  "/letters/stop/{secret}"   => letters::stop_form,     Public;
    POST "/letters/stop/{secret}"   => letters::stop,          Public;

    GET  "/account/one-time-codes"  => one_time_codes::show,   SignedIn;
    POST "/account/one-time-codes"  => one_time_codes::confirm, SignedIn;
    POST "/account/one-time-codes/recovery" => one_time_codes::recovery, SignedIn;
    POST "/account/one-time-codes/remove" => one_time_codes::remove, SignedIn;
    GET  "/account/sessions"        => sessions::list,         SignedIn;
    POST "/account/sessions"        => sessions::end,          SignedIn;
    POST "/people/{id}/one-time-codes" => people::reset_codes, Needs(ChangePeople);

    GET  "/bench"                   => bench::show,            SignedIn;

    GET  "/examine"                 => examine::list,          Needs(SitExaminations);
    POST "/examine/{scheme}"        => examine::begin,         Needs(SitExaminations);
    GET  "/examine/sitting/{id}/review"     => examine::review,   Needs(SitExaminations);
    POST "/examine/sitting/{id}/submit"     => examine::submit,   Needs(SitExaminations);
    GET  "/examine/sitting/{id}/result"     => examine::result,   Needs(SitExaminations);
    GET  "/examine/sitting/{id}/{position}" => examine::question, Needs(SitExaminations);
    POST "/examine/sitting/{id}/{position}" => examine::save,     Needs(SitExaminations);
    POST "/examine/sitting/{id}/{position}/flag" => examine::flag, Needs(SitExaminations);

    GET  "/invigilate"              => invigilate::list,       Needs(Invigilate);
    POST "/invigilate"              => invigilate::open,       Needs(Invigilate);
    GET  "/invigilate/{id}"         => invigilate::show,       Needs(Invigilate);
    POST "/invigilate/{id}/close"   => invigilate::close,      Needs(Invigilate);
    POST "/invigilate/{id}/sittings/{attempt}" => invigilate::note, Needs(Invigilate);

    GET  "/observe"                 => observe::list,          Needs(ObservePractice);
    POST "/observe"                 => observe::open,          Needs(ObservePractice);
    GET  "/observe/{id}"            => observe::show,          Needs(ObservePractice);
    GET  "/observe/{id}/steps/{position}" => observe::step,    Needs(ObservePractice);
    POST "/observe/{id}/steps/{position}" => observe::save,    Needs(ObservePractice);
    GET  "/observe/{id}/review"     => observe::review,        Needs(ObservePractice);
    POST "/observe/{id}/sign"       => observe::sign,          Needs(ObservePractice);
    GET  "/record/observations/{id}" => observe::own,          Needs(SeeOwnRecord);
    GET  "/qualified/people/{id}/observations/{observation}" => observe::of_person, Needs(SeeQualifications);

    GET  "/branches"                => branches::list,         Needs(ManageBranches);
    POST "/branches"                => branches::add,          Needs(ManageBranches);
    GET  "/branches/{id}"           => branches::show,         Needs(ManageBranches);
    POST "/branches/{id}"           => branches::change,       Needs(ManageBranches);

    GET  "/debriefs"                => debriefs::list,         Needs(HoldDebriefs);
    GET  "/debriefs/{id}"           => debriefs::show,         Needs(HoldDebriefs);
    POST "/debriefs/{id}"           => debriefs::hold,         Needs(HoldDebriefs);

    GET  "/decisions"               => decisions::list,        Needs(DecideCertification);
    GET  "/decisions/{attempt}"     => decisions::show,        Needs(DecideCertification);
    POST "/decisions/{attempt}"     => decisions::decide,      Needs(DecideCertification);
    POST "/decisions/{attempt}/appeal" => decisions::hear,     Needs(DecideCertification);
    GET  "/decisions/certificates/{number}" => decisions::certificate, Needs(DecideCertification);
    POST "/decisions/certificates/{number}" => decisions::change, Needs(DecideCertification);

    GET  "/decisions/certificates/{number}/pdf" => decisions::paper, Needs(DecideCertification);
    GET  "/decisions/certificates/{number}/signed-file" => decisions::signed_file, Needs(DecideCertification);
    GET  "/record/certificates/{number}/pdf" => record::paper, Needs(SeeOwnRecord);
    GET  "/record/certificates/{number}/signed-file" => record::signed_file, Needs(SeeOwnRecord);
    GET  "/check/{code}"            => check::show,            Public;
    GET  "/issuer"                  => issuer::document,       Public;
    GET  "/status/{list}"           => issuer::status,         Public;

    GET  "/learn"                   => learn::list,            Needs(StudyModules);
    GET  "/learn/{module}"          => learn::module,          Needs(StudyModules);
    GET  "/learn/{module}/{lesson}" => learn::lesson,          Needs(StudyModules);
    POST "/learn/{module}/{lesson}/read" => learn::read,       Needs(StudyModules);

    GET  "/practise"                => practise::list,         Needs(StudyModules);
    POST "/practise/{module}"       => practise::ask,          Needs(StudyModules);
    GET  "/practise/question/{attempt}/{position}" => practise::question, Needs(StudyModules);
    POST "/practise/question/{attempt}/{position}" => practise::answer,   Needs(StudyModules);

    GET  "/people"                  => people::list,           Needs(SeePeople);
    GET  "/people/invite"           => people::invite_form,    Needs(InvitePeople);
    POST "/people/invite"           => people::invite,         Needs(InvitePeople);
    GET  "/people/import"           => people::import_form,    Needs(ImportPeople);
    POST "/people/import"           => people::import,         Needs(ImportPeople), UPLOAD;
    GET  "/people/{id}"             => people::person,         Needs(SeePeople);
    POST "/people/{id}"             => people::change,         Needs(ChangePeople);
    POST "/people/{id}/invitation"  => people::invite_again,   Needs(InvitePeople);
    GET  "/people/{id}/time"        => people::time,           Needs(GrantExtraTime);
    POST "/people/{id}/time"        => people::set_time,       Needs(GrantExtraTime);

    GET  "/qualified"               => qualified::list,        Needs(SeeQualifications);
    GET  "/qualified.csv"           => qualified::export,      Needs(ExportQualifications);
    GET  "/qualified.xlsx"          => qualified::export_xlsx, Needs(ExportQualifications);
    GET  "/qualified/who"           => qualified::who,         Keyed(SeeQualifications);
    GET  "/qualified/lapsing"       => qualified::lapsing,     Needs(SeeQualifications);
    GET  "/qualified/branches"      => qualified::compare,     Needs(SeeQualifications);
    GET  "/qualified/people/{id}/history" => qualified::history, Needs(SeeQualifications);
    GET  "/qualified/people/{id}"   => qualified::person,      Needs(SeeQualifications);
    GET  "/qualified/people/{id}/sitting/{attempt}" => qualified::sitting, Needs(SeeQualifications);

    GET  "/record"                  => record::own,            Needs(SeeOwnRecord);
    GET  "/record/sitting/{attempt}" => record::own_sitting,   Needs(SeeOwnRecord);

    GET  "/record/sitting/{attempt}/appeal" => record::appeal_form, Needs(SeeOwnRecord);
    POST "/record/sitting/{attempt}/appeal" => record::appeal, Needs(SeeOwnRecord);
    GET  "/record/certificates/{number}" => record::certificate, Needs(SeeOwnRecord);

    GET  "/refreshers"              => refreshers::list,       Needs(RecordTriggers);
    POST "/refreshers"              => refreshers::record,     Needs(RecordTriggers);

    GET  "/assignments"             => assignments::list,      Needs(AssignWork);
    POST "/assignments"             => assignments::assign,    Needs(AssignWork);
    GET  "/assignments/{id}"        => assignments::one,       Needs(AssignWork);
    POST "/assignments/{id}/withdraw" => assignments::withdraw, Needs(AssignWork);

    GET  "/calendar"                => calendar::show,         Needs(SeeQualifications);
    POST "/calendar"                => calendar::renew,        Needs(SeeQualifications);
    GET  "/calendar/{secret}.ics"   => calendar::feed,         Public;

    GET  "/keys"                    => keys::list,             Needs(ManageAccessKeys);
    POST "/keys"                    => keys::make,             Needs(ManageAccessKeys);
    POST "/keys/{id}/revoke"        => keys::revoke,           Needs(ManageAccessKeys);

    POST "/people/{id}/trainer"     => people::trainer,        Needs(NameTrainers);

    GET  "/machines"                => machines::list,         SignedIn;
    GET  "/machines/new"            => machines::new,          Needs(DescribeMachines);
    POST "/machines/check"          => machines::check,        Needs(DescribeMachines), UPLOAD;
    POST "/machines/publish"        => machines::publish,      Needs(DescribeMachines), UPLOAD;
    GET  "/machines/{id}"           => machines::one,          SignedIn;
    GET  "/machines/{id}/edit"      => machines::edit,         Needs(DescribeMachines);

    GET  "/templates"               => templates::list,        Needs(WriteTemplates);
    GET  "/templates/new"           => templates::new,         Needs(WriteTemplates);
    GET  "/templates/grammar"       => templates::grammar,     Needs(WriteTemplates);
    GET  "/templates/beliefs"       => templates::beliefs,     Needs(WriteTemplates);
    GET  "/templates/coverage"      => templates::coverage,    Needs(WriteTemplates);
    POST "/templates/new"           => templates::begin,       Needs(WriteTemplates);
    GET  "/templates/drafts/{id}"   => templates::draft,       Needs(WriteTemplates);
    POST "/templates/drafts/{id}"   => templates::write,       Needs(WriteTemplates), UPLOAD;
    GET  "/templates/drafts/{id}/review"  => templates::review, Needs(ReviewTemplates);
    POST "/templates/drafts/{id}/review"  => templates::decide, Needs(ReviewTemplates);
    GET  "/templates/{topic}/{name}"      => templates::one,   Needs(WriteTemplates);
    POST "/templates/{topic}/{name}/change" => templates::change, Needs(WriteTemplates);
    GET  "/templates/{topic}/{name}/retire" => templates::retire_form, Needs(WriteTemplates);
    POST "/templates/{topic}/{name}/retire" => templates::retire, Needs(WriteTemplates);

    GET  "/assets/{hash}/{name}"    => assets::file,           Public;
    GET  "/health"                  => state::health,          Public;
    GET  "/ready"                   => state::ready,           Public;
    GET  "/metrics"                 => state::metrics,         Public;
}
