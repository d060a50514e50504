//! What exporters write, and what else the format allows.

use super::*;

#[test]
fn all_four_corner_forms() {
    let file = format!(
        "{TRIANGLE}vt 0 0\nvt 1 0\nvt 0 1\nvn 0 0 1\nf 1 2 3\nf 1/1 2/2 3/3\nf 1//1 2//1 3//1\nf 1/3/1 2/2/1 3/1/1\n"
    );
    let document = ok(file);
    assert_eq!(texcoord_indices(&document, 0), [None; 3]);
    assert_eq!(normal_indices(&document, 0), [None; 3]);
    assert_eq!(texcoord_indices(&document, 1), [Some(0), Some(1), Some(2)]);
    assert_eq!(normal_indices(&document, 1), [None; 3]);
    assert_eq!(texcoord_indices(&document, 2), [None; 3]);
    assert_eq!(normal_indices(&document, 2), [Some(0); 3]);
    assert_eq!(texcoord_indices(&document, 3), [Some(2), Some(1), Some(0)]);
    assert_eq!(normal_indices(&document, 3), [Some(0); 3]);
    assert_eq!(document.face_lines, [8, 9, 10, 11]);
    assert_eq!(raised(&document), [(Kind::MixedFaces, 8)]);
}

#[test]
fn positions_with_three_four_six_and_seven_numbers() {
    let document = ok("v 1 2 3\nv 4 5 6 1.0\nv 7 8 9 .1 .2 .3\nv 10 11 12 1 .1 .2 .3\nf 1 2 3 4\n");
    assert_eq!(document.positions, [[1., 2., 3.], [4., 5., 6.], [7., 8., 9.], [10., 11., 12.]]);
    assert!(document.diagnostics.kept.is_empty());
}

#[test]
fn texture_coordinates_with_one_two_and_three_numbers() {
    let document = ok(format!("{TRIANGLE}vt .25\nvt .25 .5\nvt .25 .5 .75\nf 1/1 2/2 3/3"));
    assert_eq!(document.texcoords, [[0.25, 0.0], [0.25, 0.5], [0.25, 0.5]]);
    assert!(document.diagnostics.kept.is_empty());
}

#[test]
fn negative_indices_count_back_from_their_line() {
    let document = ok(format!("{TRIANGLE}vt 0 0\nvt 1 1\nf -3/-2 -2/-1 -1/-1\nv 5 5 5\nvt 2 2\nf -4/-3 -3/-1 -1/-1\n"));
    assert_eq!(position_indices(&document, 0), [0, 1, 2]);
    assert_eq!(texcoord_indices(&document, 0), [Some(0), Some(1), Some(1)]);
    assert_eq!(position_indices(&document, 1), [0, 1, 3]);
    assert_eq!(texcoord_indices(&document, 1), [Some(0), Some(2), Some(2)]);
}

#[test]
fn faces_may_refer_ahead() {
    let document = ok(format!("f 1/1 2/1 3/1\n{TRIANGLE}vt 0.5 0.5\n"));
    assert_eq!(position_indices(&document, 0), [0, 1, 2]);
    assert_eq!(texcoord_indices(&document, 0), [Some(0); 3]);
    assert!(document.diagnostics.kept.is_empty());
}

#[test]
fn backslashes_continue_lines_with_any_line_end_and_trailing_blanks() {
    for end in ["\n", "\r\n", "\r"] {
        let file = format!("v 0 0 \\{end}0{end}v 1 0 0{end}v 0 1 0{end}f 1 \\  {end} 2\\{end}3{end}f 3 2 1{end}");
        let document = ok(&file);
        assert_eq!(position_indices(&document, 0), [0, 1, 2], "{file:?}");
        assert_eq!(document.face_lines, [5, 8]);
        assert!(document.diagnostics.kept.is_empty());
    }
}

#[test]
fn a_comment_that_ends_in_a_backslash_hides_no_line() {
    let document = ok("# C:\\models\\\nv 0 0 0 # here \\\nv 1 0 0\nv 0 1 0\nf 1 2 3 # all\\\nf 3 2 1\n");
    assert_eq!(document.positions.len(), 3);
    assert_eq!(document.face_count(), 2);
}

#[test]
fn byte_order_mark_blanks_tabs_comments_and_all_line_ends() {
    let file = "\u{FEFF}\t v\t0  0 0 \r\n# c\r\r\n \t\n  v 1 0 0#x\rv 0 1 0 # y\n\nf\t1  2\t3 \t";
    let document = ok(file);
    assert_eq!(document.positions, [[0., 0., 0.], [1., 0., 0.], [0., 1., 0.]]);
    assert_eq!(document.face_lines, [8]);
    assert!(document.diagnostics.kept.is_empty(), "{:?}", document.diagnostics);
}

#[test]
fn names_of_objects_groups_materials_and_libraries() {
    let file = format!(
        "mtllib one.mtl two words.MTL\nmtllib plain\n{TRIANGLE}f 1 2 3\no Ящик 箱\ng left  upper\nusemtl Paint #2\nf 1 2 3\n\
         usemtl wall # inner\nusemtl Paint #2\nf 1 2 3\ng\nf 1 2 3\no Ящик 箱\no other\nf 1 2 3\ng late\n"
    );
    let document = ok(file);
    assert_eq!(document.material_libraries, ["one.mtl", "two words.MTL", "plain"]);
    assert_eq!(document.objects, ["Ящик 箱", "other"]);
    assert_eq!(document.groups, ["left upper", "default", "late"]);
    assert_eq!(document.materials, ["Paint #2", "wall"]);
    assert_eq!(document.object_runs, [Run { face: 1, name: 0 }, Run { face: 4, name: 1 }]);
    assert_eq!(document.group_runs, [Run { face: 1, name: 0 }, Run { face: 3, name: 1 }]);
    assert_eq!(document.material_runs, [Run { face: 1, name: 0 }]);
}

#[test]
fn repeated_positions_are_not_merged_by_the_reader() {
    let document = ok(format!("{TRIANGLE}f 1 1 2 2 3\n"));
    assert_eq!(position_indices(&document, 0), [0, 0, 1, 1, 2]);
}

#[test]
fn smoothing_groups_are_kept_without_a_diagnostic() {
    let groups = |text: &str| {
        let document = ok(text);
        assert!(document.diagnostics.kept.is_empty());
        document.smoothing_runs.iter().map(|run| (run.face, run.name)).collect::<Vec<_>>()
    };
    let faces = format!("{TRIANGLE}f 1 2 3\n");
    assert_eq!(groups(&format!("s off\n{faces}s 1\nf 1 2 3\ns 0\n")), [(0, 0), (1, 1)]);
    assert_eq!(groups(&format!("{faces}s 7\ns 2 # trim\nf 1 2 3\ns 2\nf 1 2 3\n")), [(1, 2)]);
    assert_eq!(groups(&faces), []);
    // A face that is left out moves those behind it.
    let lost = ok(format!("{faces}s 1\nf 1 2 9\nf 1 2 3\ns 2\nf 1 2 3\n"));
    assert_eq!(lost.smoothing_runs.iter().map(|run| (run.face, run.name)).collect::<Vec<_>>(), [(1, 1), (2, 2)]);
}
