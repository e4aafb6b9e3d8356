//! What was typed into a form and could not be taken: it goes back to the reader, to be sent again.
//!
//! Never keeps anything on the server, never sends anything by itself (the reader presses a button for that), and never gives
//! a password or a code back.

use super::address;
use super::form::Fields;
use serde::Serialize;

/// How the names of held fields begin while somebody signs in.
const PREFIX: &str = "held:";
/// Letters from which on a text is shown; chosen by us: what is shorter was chosen, or is soon typed again.
const SHOWN_FROM: usize = 20;
/// How the names of fields end that hold what nobody else may see.
const SECRET: [&str; 3] = ["password", "code", "token"];

/// What was typed, and where it was going.
#[derive(Clone, Debug, Serialize)]
pub struct Held {
    /// Where the form was going.
    to: String,
    /// Its fields in order, without the form token.
    fields: Vec<(String, String)>,
    /// The longest of them, to be looked at.
    text: Option<String>,
    /// The token to send it with; nothing when the reader has to sign in first.
    form_token: Option<String>,
}

impl Held {
    /// What a form held, for a reader with this form token.
    pub(super) fn new(to: &str, fields: &Fields, form_token: Option<String>) -> Option<Self> {
        let all = fields.every().filter(|(name, _)| *name != "form_token");
        Self::of(to, all.map(|(name, value)| (name.to_owned(), value.to_owned())).collect(), form_token)
    }

    /// What a form held that could not be taken through no fault of the reader's; nothing where a secret was typed.
    pub(super) fn again(to: &str, fields: &Fields) -> Option<Self> {
        let secret = |name: &str| name != "form_token" && SECRET.iter().any(|ending| name.ends_with(ending));
        let form_token = Some(fields.typed("form_token")).filter(|token| !token.is_empty())?;
        let open = fields.every().all(|(name, _)| !secret(name));
        open.then(|| Self::new(to, fields, Some(form_token.to_owned()))).flatten()
    }

    /// What came back with a sign-in, if anything did.
    pub(super) fn read(fields: &Fields) -> Option<Self> {
        let held = fields.every().filter_map(|(name, value)| Some((name.strip_prefix(PREFIX)?, value)));
        Self::of(fields.typed("held_to"), held.map(|(name, value)| (name.to_owned(), value.to_owned())).collect(), None)
    }

    fn of(to: &str, fields: Vec<(String, String)>, form_token: Option<String>) -> Option<Self> {
        let to = address::own_path(to)?.to_owned();
        let longest = fields.iter().map(|(_, value)| value).max_by_key(|value| value.len())?;
        let text = (longest.chars().count() >= SHOWN_FROM).then(|| longest.clone());
        Some(Self { to, fields, text, form_token })
    }

    /// The same for a reader who has signed in.
    pub(super) fn with_token(self, form_token: String) -> Self {
        Self { form_token: Some(form_token), ..self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_typed_comes_back_and_leads_nowhere_else() {
        let form = Fields::from_text("form_token=secret&key=fire%2Fa&text=title%3A+Straw%0D%0Alevel%3A+2").unwrap();
        let held = Held::new("/templates/drafts/1", &form, None).unwrap();
        assert_eq!(held.text.as_deref(), Some("title: Straw\r\nlevel: 2"));
        assert!(held.fields.iter().all(|(name, _)| name != "form_token"));
        assert!(Held::new("//elsewhere.example", &form, None).is_none());
        let back = Fields::from_text("email=a&held_to=%2Ftemplates%2Fdrafts%2F1&held%3Akey=fire%2Fa&held%3Atext=x+y");
        let back = Held::read(&back.unwrap()).unwrap();
        assert_eq!(back.fields, [("key".to_owned(), "fire/a".to_owned()), ("text".to_owned(), "x y".to_owned())]);
        assert!(Held::read(&Fields::from_text("email=a&held_to=%2Fa").unwrap()).is_none(), "nothing was typed");
    }

    #[test]
    fn no_secret_is_given_back() {
        let again = |text: &str| Held::again("/a", &Fields::from_text(text).unwrap());
        let held = again("form_token=t&choice=0").unwrap();
        assert_eq!((held.form_token.as_deref(), held.text), (Some("t"), None));
        assert_eq!(held.fields, [("choice".to_owned(), "0".to_owned())]);
        for secret in ["old_password=x", "password=x", "candidate_password=", "code=1", "recovery_code=1", "token=x"] {
            assert!(again(&format!("form_token=t&note=a&{secret}")).is_none(), "{secret}");
        }
        assert!(again("choice=0").is_none(), "it could not be sent again");
    }
}
