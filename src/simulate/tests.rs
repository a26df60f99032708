#[test]
fn nothing() {}
