//! What a newer version has saved is found again by it, whatever this version did in between.

use std::path::Path;

use ledgerline_tests::built::BuiltFor;
use serde_json::{Value, json};

use crate::saved_state::{changed, opened};

fn saved_after<H: BuiltFor>(state: &[u8], work: impl FnOnce(&mut H)) -> Value {
    let mut host = H::load(&H::built()).expect("the plugin");
    host.recall(state).expect("a state");
    work(&mut host);
    opened(&host.save().expect("a state"))
}

/// A state of this version with what a later one might add.
fn with_additions<H: BuiltFor>() -> Vec<u8> {
    let mut host = H::load(&H::built()).expect("the plugin");
    changed(&host.save().expect("a state"), |json| {
        json["params"]["a_parameter_to_come"] = json!({ "f32": 1.5 });
        json["params"]["true_peak"] = json!({ "string": "a_filter_to_come" });
        json["params"]["ceiling"] = json!({ "f32": 6.0 });
        json["fields"]["a_field_to_come"] = json!("{\"marks\":[1,2]}");
        let window = r#"{"width_points":900.0,"height_points":700.0,"dark":false,"columns":3}"#;
        json["fields"]["window"] = json!(window);
    })
}

fn what_is_not_understood_is_written_back_where_it_was<H: BuiltFor>(_: &Path) {
    let saved = saved_after::<H>(&with_additions::<H>(), |host| host.set("target", 0.25));
    assert_eq!(saved["params"]["a_parameter_to_come"], json!({ "f32": 1.5 }));
    assert_eq!(saved["params"]["true_peak"], json!({ "string": "a_filter_to_come" }));
    assert_eq!(saved["params"]["ceiling"], json!({ "f32": 6.0 }));
    assert_eq!(saved["params"]["target"], json!({ "f32": -45.0 }));
    assert_eq!(saved["fields"]["a_field_to_come"], json!("{\"marks\":[1,2]}"));
    let window: Value = serde_json::from_str(saved["fields"]["window"].as_str().unwrap()).unwrap();
    assert_eq!((&window["columns"], &window["dark"]), (&json!(3), &json!(false)));
}

fn what_the_user_chooses_here_is_what_is_saved<H: BuiltFor>(_: &Path) {
    let saved = saved_after::<H>(&with_additions::<H>(), |host| {
        host.set("ceiling", 0.5);
        host.set("true_peak", 1.0);
    });
    assert_eq!(saved["params"]["ceiling"], json!({ "f32": -12.0 }));
    assert_eq!(saved["params"]["true_peak"], json!({ "string": "bs1770" }));
    assert_eq!(saved["params"]["a_parameter_to_come"], json!({ "f32": 1.5 }));
}

/// Both versions find their own settings, time after time.
fn a_state_of_another_shape_is_saved_with_ours_beside_it<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    let newer = changed(&host.save().expect("a state"), |json| {
        json["version"] = json!("99.0.0");
        json["params"]["ceiling"] = json!({ "f32": -9.0 });
        json["params"]["shape"] = json!({ "string": "another" });
        json["fields"]["state"] = json!(r#"{"schema":"ledgerline.state/2","pages":[]}"#);
    });
    host.recall(&newer).expect("a state");
    let unmoved = host.value("ceiling");
    host.set("target", 0.25);
    let saved = host.save().expect("a state");
    for (key, value) in [("params", &opened(&saved)), ("version", &opened(&saved))] {
        assert_eq!(value[key], opened(&newer)[key], "the newer state's {key}");
    }
    assert_eq!(opened(&saved)["fields"]["state"], opened(&newer)["fields"]["state"]);

    let mut again = H::load(&H::built()).expect("the plugin");
    again.recall(&saved).expect("a state");
    assert!((again.value("target") - 0.25).abs() < 1e-6, "this version's own settings are lost");
    assert_eq!(again.value("ceiling"), unmoved);
    assert_eq!(opened(&again.save().expect("a state")), opened(&saved), "saved again");
}

in_both_formats!(
    what_is_not_understood_is_written_back_where_it_was,
    what_the_user_chooses_here_is_what_is_saved,
    a_state_of_another_shape_is_saved_with_ours_beside_it,
);
