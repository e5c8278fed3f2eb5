//! The open file lies in its place, or is damaged.

use super::mending::State;
use super::*;

#[test]
fn a_memory_that_is_deleted_or_replaced_while_it_is_open_is_damage_and_put_back_or_begun_anew_aloud()
 {
    let replace = |state: &State| {
        let path = Store::file_in(state.path());
        let bytes = std::fs::read(&path).unwrap();
        std::fs::write(state.file("copy"), bytes).unwrap();
        std::fs::rename(state.file("copy"), path).unwrap();
    };
    let delete = |state: &State| {
        std::fs::remove_file(Store::file_in(state.path())).unwrap();
    };
    let gone = |state: &State, goes: &dyn Fn(&State)| {
        let mut store = Store::open(state.path()).unwrap();
        with(&mut store, |memory| memory.remember("last", "2"));
        store.bring_in_log().unwrap();
        goes(state);
        let said = store
            .settle(|memory: &Memory<'_>| memory.remember("last", "3"))
            .unwrap_err();
        assert!(said.is_damage(), "{said}");
        damage_was_met(state.path(), &said);
    };
    let state = State::new().backed_up("1", 19);
    gone(&state, &replace);
    assert_eq!(state.opens(), (Some("2".into()), None));
    is_well(state.path());
    gone(&state, &delete);
    let (last, found) = state.opens();
    assert_eq!(last.as_deref(), Some("1"));
    assert_eq!(found.unwrap().how, "gone, though there are backups of it");
    // There was no backup yet.
    let state = State::new();
    gone(&state, &delete);
    let (last, found) = state.opens();
    assert_eq!(
        (last, found.unwrap().how.as_str()),
        (None, "gone, though it was in use")
    );
}
