//! States as hosts keep them, opened and changed: a few bytes of the format's own, then JSON.

use serde_json::Value;

/// The state's JSON.
pub fn opened(state: &[u8]) -> Value {
    serde_json::from_slice(&state[start(state)..]).expect("JSON in the state")
}

/// The state with its JSON changed.
pub fn changed(state: &[u8], change: impl FnOnce(&mut Value)) -> Vec<u8> {
    let start = start(state);
    let mut json = opened(state);
    change(&mut json);
    let text = json.to_string();
    let mut bytes = state[..start].to_vec();
    if start == 8 {
        // CLAP's stream says its length first.
        bytes = (text.len() as u64).to_le_bytes().to_vec();
    }
    bytes.extend_from_slice(text.as_bytes());
    bytes
}

fn start(state: &[u8]) -> usize {
    state.iter().position(|byte| *byte == b'{').expect("JSON in the state")
}
