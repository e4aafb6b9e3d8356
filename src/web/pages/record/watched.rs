//! What whoever watched wrote down about a sitting, in lines, for those who judge it later and for its owner.

use crate::store::incidents::{self, IncidentKind};
use crate::store::{AttemptId, people};
use crate::web::App;
use crate::web::dates::day_and_time;
use crate::web::error::PageError;

/// One line for each incident, oldest first.
pub(in crate::web::pages) async fn incidents_in(
    app: &App,
    zone: &str,
    attempt: AttemptId,
) -> Result<Vec<String>, PageError> {
    let mut lines = Vec::new();
    for incident in incidents::of_attempts(&app.deeds.db, &[attempt]).await? {
        let at = day_and_time(incident.noted_at, zone)?;
        let by = people::by_id(&app.deeds.db, incident.noted_by).await?.display_name;
        lines.push(match incident.kind {
            IncidentKind::Noted => format!("{at}, {by}: {}", incident.text),
            IncidentKind::Ended => format!("{at}, ended by {by}: {}", incident.text),
        });
    }
    Ok(lines)
}
