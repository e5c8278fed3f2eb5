//! Which letters a letter goes on from, in the store.

use super::{Memory, StoreError, moment};
use crate::letters::Topic;
use chrono::{DateTime, Utc};

/// So many letters are named; of more, the first and the newest.
const LONGEST: usize = 10;

impl Memory<'_> {
    /// The letters that one to that person about that topic goes on from, the oldest first: the newest that named one of
    /// its steps of one of its batches since a moment, and behind it what that one went on from.
    pub fn thread(
        &self,
        recipient: &str,
        topic: &Topic<'_>,
        since: DateTime<Utc>,
    ) -> Result<Vec<String>, StoreError> {
        let list = |names: &[&str]| serde_json::Value::from(names.to_vec()).to_string();
        let mut read = self
            .transaction
            .prepare_cached(
                "SELECT message_id, thread FROM letter WHERE id = (
                   SELECT max(id) FROM (
                     SELECT letter.id AS id FROM letter
                       JOIN letter_notice ON letter_notice.letter = letter.id JOIN notice ON notice.id = letter_notice.notice
                       WHERE recipient = ?1 AND letter.round_at >= ?2
                       AND notice.step IN (SELECT value FROM json_each(?3)) AND notice.subject IN (SELECT value FROM json_each(?4))
                     UNION ALL
                     SELECT letter.id FROM letter JOIN asked ON asked.letter = letter.id
                       WHERE recipient = ?1 AND round_at >= ?2
                       AND step IN (SELECT value FROM json_each(?3)) AND batch IN (SELECT value FROM json_each(?4))))",
            )?;
        let about = (
            recipient,
            moment(since),
            list(&topic.steps),
            list(&topic.batches),
        );
        let newest: Option<(String, String)> = self.row("letter", &mut read, about, |row| {
            Ok((row.get(0)?, row.get(1)?))
        })?;
        let Some((newest, before)) = newest else {
            return Ok(Vec::new());
        };
        let mut thread: Vec<String> = before.split_whitespace().map(str::to_owned).collect();
        thread.push(newest);
        // Without its first letter a mail program would not know the thread again.
        if thread.len() > LONGEST {
            thread.drain(1..=thread.len() - LONGEST);
        }
        Ok(thread)
    }
}
