//! Every letter as one structured log line, for those who read logs and for the record.

use super::{Carrier, Outcome, Parcel, Pending};

/// Writes a line and is done.
#[derive(Clone, Copy, Debug, Default)]
pub struct Log;

impl Carrier for Log {
    fn name(&self) -> &'static str {
        "log"
    }

    fn disturbs(&self) -> bool {
        false
    }

    fn carry<'a>(&'a self, parcel: &'a Parcel) -> Pending<'a, Outcome> {
        tracing::info!(
            recipient = parcel.recipient,
            subject = parcel.subject,
            message_id = parcel.message_id,
            bytes = parcel.bytes.len(),
            "letter"
        );
        Box::pin(std::future::ready(Outcome::Delivered))
    }
}
