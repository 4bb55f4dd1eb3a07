#![doc = include_str!("index.md")]

macro_rules! chapters {
    ($($name:ident: $($part:literal)+;)+) => {
        $($(#[doc = include_str!($part)])+
        pub mod $name {})+
    };
}

chapters! {
    measure: "measure.md";
    sheet: "sheet.md";
    csv_to_file: "csv_to_file.md";
    bring_up: "bring_up.md";
    repair: "repair.md";
    mirrors_and_linkages: "mirrors_and_linkages.md";
    feedback: "feedback.md";
    firmware: "firmware.md";
    unit_tests: "unit_tests.md";
    control_loop: "control_loop.md";
    robot_file: "robot_file.md";
    glossary: "glossary.md";
    gallery: "gallery/limits.md" "gallery/limits.html" "gallery/curve.md" "gallery/curve.html" "gallery/joint.md" "gallery/joint.html"
        "gallery/linkage.md" "gallery/linkage.html" "gallery/rehearsal.md";
}
