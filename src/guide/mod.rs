// The links between chapters: in the Markdown files they lead to files, here to modules, since the first definition counts.
#![doc = "[measure]: crate::guide::measure\n[sheet]: crate::guide::sheet\n[csv_to_file]: crate::guide::csv_to_file\n[bring_up]: crate::guide::bring_up\n[repair]: crate::guide::repair\n[mirrors_and_linkages]: crate::guide::mirrors_and_linkages\n[feedback]: crate::guide::feedback\n[firmware]: crate::guide::firmware\n[unit_tests]: crate::guide::unit_tests\n[control_loop]: crate::guide::control_loop\n[robot_file]: crate::guide::robot_file\n[glossary]: crate::guide::glossary\n[gallery]: crate::guide::gallery\n"]
#![doc = include_str!("index.md")]

macro_rules! chapters {
    ($($name:ident: $($part:literal)+;)+) => {
        $(#[doc = "[measure]: crate::guide::measure\n[sheet]: crate::guide::sheet\n[csv_to_file]: crate::guide::csv_to_file\n[bring_up]: crate::guide::bring_up\n[repair]: crate::guide::repair\n[mirrors_and_linkages]: crate::guide::mirrors_and_linkages\n[feedback]: crate::guide::feedback\n[firmware]: crate::guide::firmware\n[unit_tests]: crate::guide::unit_tests\n[control_loop]: crate::guide::control_loop\n[robot_file]: crate::guide::robot_file\n[glossary]: crate::guide::glossary\n[gallery]: crate::guide::gallery\n"]
        $(#[doc = include_str!($part)])+
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
        "gallery/linkage.md" "gallery/linkage.html" "gallery/comparison.md" "gallery/comparison.html" "gallery/history.md"
        "gallery/history.html" "gallery/rehearsal.md";
}
