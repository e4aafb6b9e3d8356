//! Debian's Chromium, driven through its own driver: each test has a driver, a browser and a profile of its own.
//!
//! Waits for what the page shows, never for a length of time.

use fantoccini::elements::Element;
use fantoccini::error::{CmdError, ErrorStatus};
use fantoccini::wd::PrintConfiguration;
use fantoccini::{Client, ClientBuilder, Locator};
use serde_json::json;
use std::path::Path;
use std::process::Stdio;
use std::time::Duration;
use tokio::io::{AsyncBufReadExt as _, BufReader};
use tokio::process::{Child, Command};

/// How soon the driver is asked again for what is not there yet.
const LOOK_AGAIN: Duration = Duration::from_millis(10);

/// A browser that somebody sits at.
pub(crate) struct Browser {
    client: Client,
    origin: String,
    /// Ends with the test: the driver and, through it, the browser.
    driver: Child,
    /// The browser's profile.
    _profile: tempfile::TempDir,
}

/// Whether pages may run scripts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Scripts {
    /// As most people have it.
    On,
    /// Everything must work without them.
    Off,
}

impl Browser {
    /// Opens a browser for the pages of `origin`, such as `http://127.0.0.1:1234`.
    pub(crate) async fn open(origin: &str, scripts: Scripts, width: u32, height: u32) -> Self {
        Self::begin(origin, scripts, (width, height), 16).await
    }

    /// Opens one whose letters somebody has set to another size.
    pub(crate) async fn with_letters(origin: &str, size: (u32, u32), letters_px: u32) -> Self {
        Self::begin(origin, Scripts::On, size, letters_px).await
    }

    async fn begin(origin: &str, scripts: Scripts, (width, height): (u32, u32), letters_px: u32) -> Self {
        let (driver, port) = start_driver().await;
        let profile = tempfile::tempdir().expect("a folder for the profile");
        let allowed = if scripts == Scripts::On { 1 } else { 2 };
        // A page is there when its document is: nothing here waits for fonts, which a picture alone needs.
        let capabilities = json!({ "pageLoadStrategy": "eager", "goog:chromeOptions": {
            "args": [
                "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars",
                "--no-first-run", "--disable-quic", "--disable-background-networking", "--disable-component-update",
                "--disable-sync", format!("--user-data-dir={}", profile.path().display()),
            ],
            "prefs": {
                "profile.managed_default_content_settings.javascript": allowed,
                "webkit": { "webprefs": { "default_font_size": letters_px } },
            },
        }});
        let serde_json::Value::Object(capabilities) = capabilities else { unreachable!("an object was written above") };
        let client = ClientBuilder::new(hyper_util::client::legacy::connect::HttpConnector::new())
            .capabilities(capabilities)
            .connect(&format!("http://127.0.0.1:{port}"))
            .await
            .expect("the browser starts");
        client.set_window_size(width, height).await.expect("a window");
        Self { client, origin: origin.to_owned(), driver, _profile: profile }
    }

    /// Goes to an address.
    pub(crate) async fn go(&self, path: &str) {
        self.client.goto(&format!("{}{path}", self.origin)).await.expect("the page loads");
    }

    /// Presses the browser's Back.
    pub(crate) async fn back(&self) {
        self.client.back().await.expect("the page before");
    }

    /// Goes to an address in a tab of its own; what follows happens there.
    pub(crate) async fn other_tab(&self, path: &str) {
        let tab = self.client.new_window(true).await.expect("a tab");
        self.client.switch_to_window(tab.handle).await.expect("the tab");
        self.go(path).await;
    }

    /// Turns to a tab that is open, the first being 0; what follows happens there.
    pub(crate) async fn tab(&self, at: usize) {
        let tabs = self.client.windows().await.expect("the tabs");
        self.client.switch_to_window(tabs[at].clone()).await.expect("the tab");
    }

    /// Waits until an expression holds on the page.
    pub(crate) async fn until(&self, holds: &str) {
        let asked = format!("return Boolean({holds})");
        while self.client.execute(&asked, Vec::new()).await.expect("the script runs") != json!(true) {
            tokio::task::yield_now().await;
        }
    }

    /// Runs a script on the page, for what happens to a page from outside it.
    pub(crate) async fn run(&self, script: &str) {
        self.client.execute(script, Vec::new()).await.expect("the script runs");
    }

    /// Makes the forms of the page those of a session that is over: none of them is taken any more.
    pub(crate) async fn outlives_its_session(&self) {
        self.run("document.querySelectorAll('input[name=form_token]').forEach((token) => { token.value = 'gone'; })")
            .await;
    }

    /// The address without the origin.
    pub(crate) async fn path(&self) -> String {
        self.client.current_url().await.expect("an address").path().to_owned()
    }

    /// Everything that can be read on the page.
    pub(crate) async fn text(&self) -> String {
        self.find("main").await.text().await.expect("text")
    }

    /// Everything that can be read in the window and on its tab.
    pub(crate) async fn everything(&self) -> String {
        let title = self.client.title().await.expect("a title");
        format!("{title}\n{}", self.find("html").await.text().await.expect("text"))
    }

    /// Waits until the page says something.
    pub(crate) async fn sees(&self, words: &str) {
        let says = format!("//main[contains(normalize-space(string(.)), {})]", quoted(words));
        if self.client.wait().every(LOOK_AGAIN).for_element(Locator::XPath(&says)).await.is_err() {
            panic!("\"{words}\" is not on {}:\n{}", self.path().await, self.text().await);
        }
    }

    /// The first element of a CSS selector, once it is there.
    pub(crate) async fn find(&self, css: &str) -> Element {
        let found = self.client.wait().every(LOOK_AGAIN).for_element(Locator::Css(css)).await;
        match found {
            Ok(element) => element,
            Err(error) => panic!("{css} is not on {}: {error}", self.path().await),
        }
    }

    /// All elements of a CSS selector that are there now.
    pub(crate) async fn find_all(&self, css: &str) -> Vec<Element> {
        self.client.find_all(Locator::Css(css)).await.expect("elements")
    }

    /// Types into a field, in place of what stands there.
    pub(crate) async fn fill(&self, field: &str, text: &str) {
        let element = self.find(&format!("[name=\"{field}\"]")).await;
        element.clear().await.expect("an empty field");
        element.send_keys(text).await.expect("typed");
    }

    /// Clicks beside the fields: what is typed counts as given once its field is left. The heading has a size on every page; the
    /// line that tells what is saved has none while it is empty.
    pub(crate) async fn leave_field(&self) {
        self.find("main h1").await.click().await.expect("a click beside the field");
    }

    /// Chooses in a select by the words of the choice.
    pub(crate) async fn choose(&self, field: &str, words: &str) {
        let select = self.find(&format!("[name=\"{field}\"]")).await;
        select.select_by_label(words).await.expect("a choice");
    }

    /// Presses a button or follows a link by its words, and waits for the page that comes.
    pub(crate) async fn press(&self, words: &str) {
        let by_words = format!(
            "//main//button[contains(normalize-space(.), {0})] | //main//a[contains(normalize-space(.), {0})]",
            quoted(words)
        );
        let found = self.client.wait().every(LOOK_AGAIN).for_element(Locator::XPath(&by_words)).await;
        let Ok(element) = found else {
            panic!("there is nothing to press that says \"{words}\" on {}:\n{}", self.path().await, self.text().await)
        };
        self.leave_by(element).await;
    }

    /// Clicks something that leads to another page, and waits until the page before is gone.
    pub(crate) async fn leave_by(&self, element: Element) {
        let before = self.find("html").await;
        element.click().await.expect("a click");
        // The old page's root goes stale when the new one is there; the driver says so at once. While one page gives way
        // to the other it may say something else: that is not the new page yet.
        while !is_gone(&before.tag_name().await) {
            tokio::task::yield_now().await;
        }
        self.find("main").await;
    }

    /// Gives an option of an order its place, of `last`: with the buttons when scripts run, with the select without.
    pub(crate) async fn place(&self, option: usize, place: usize, last: usize) {
        let select = self.find(&format!("[name=\"place_{option}\"]")).await;
        if select.is_displayed().await.expect("a state") {
            return select.select_by_value(&place.to_string()).await.expect("a place");
        }
        // From its place upwards: the steps before it stand where they belong already.
        let row = format!("//li[.//*[@name=\"place_{option}\"]]//button[normalize-space(.)=\"Up\"]");
        for _ in place..last {
            let now = select.prop("value").await.expect("a value").unwrap_or_default();
            if now == place.to_string() {
                break;
            }
            let up = self.client.find(Locator::XPath(&row)).await.expect("an up button");
            up.click().await.expect("a click");
        }
    }

    /// Signs in.
    pub(crate) async fn sign_in(&self, email: &str, password: &str) {
        self.go("/sign-in").await;
        self.fill("email", email).await;
        self.fill("password", password).await;
        self.press("Sign in").await;
    }

    /// Signs out, as somebody does who leaves the browser to the next.
    pub(crate) async fn sign_out(&self) {
        let button = self.find("form[action=\"/sign-out\"] button").await;
        self.leave_by(button).await;
    }

    /// Keeps a picture of the window when `SOOTMARK_PICTURES` names a folder: for the README and for looking.
    pub(crate) async fn picture(&self, name: &str) {
        if let Ok(folder) = std::env::var("SOOTMARK_PICTURES") {
            let ready = "document.fonts.ready.then(arguments[0])";
            self.client.execute_async(ready, Vec::new()).await.expect("the page has its fonts");
            let png = self.client.screenshot().await.expect("a picture");
            std::fs::write(Path::new(&folder).join(format!("{name}.png")), png).expect("the picture is written");
        }
    }

    /// The page as it is printed, a PDF.
    pub(crate) async fn on_paper(&self) -> Vec<u8> {
        self.client.print(PrintConfiguration::default()).await.expect("it prints")
    }

    /// The names of the cookies that the page's server has set.
    pub(crate) async fn cookies(&self) -> Vec<String> {
        let all = self.client.get_all_cookies().await.expect("cookies");
        all.iter().map(|cookie| cookie.name().to_owned()).collect()
    }

    /// Closes the browser and its driver.
    pub(crate) async fn close(mut self) {
        self.client.close().await.expect("the browser closes");
        self.driver.kill().await.expect("the driver ends");
    }
}

/// Whether what the driver says about an element means that its page is gone, or the browser with it.
fn is_gone<T>(said: &Result<T, CmdError>) -> bool {
    match said {
        Ok(_) => false,
        Err(CmdError::Standard(told)) => {
            matches!(
                told.error,
                ErrorStatus::StaleElementReference | ErrorStatus::NoSuchElement | ErrorStatus::NoSuchWindow
            )
        }
        Err(_) => true,
    }
}

/// Starts a driver on a free port of its own choosing, and reads the port from what it says.
async fn start_driver() -> (Child, u16) {
    let mut driver = Command::new("chromedriver")
        .arg("--port=0")
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .kill_on_drop(true)
        .spawn()
        .expect("chromedriver is installed; tests/run installs it, tests/run --quick goes without");
    let said = driver.stdout.take().expect("what the driver says");
    let mut lines = BufReader::new(said).lines();
    while let Some(line) = lines.next_line().await.expect("the driver speaks") {
        if let Some(port) = line.strip_prefix("ChromeDriver was started successfully on port ") {
            let port = port.trim_end_matches('.').parse().expect("a port");
            // The rest of what it says is read so that it never blocks on a full pipe.
            tokio::spawn(async move { while let Ok(Some(_)) = lines.next_line().await {} });
            return (driver, port);
        }
    }
    panic!("chromedriver did not start");
}

/// A text as an XPath literal.
fn quoted(text: &str) -> String {
    if text.contains('"') { format!("'{text}'") } else { format!("\"{text}\"") }
}
