//! Writing, resuming and reading back of logs.

use std::fs;

use super::*;
use crate::scratch::Scratch;

#[test]
fn bytes_are_kept_exactly_and_arrivals_at_most_ten_a_second() {
    let folder = Scratch::new("exact");
    let mut log = LogWriter::create(folder.path()).unwrap();
    log.append(b"ab\0", 100.0).unwrap();
    log.append(b"c", 100.05).unwrap();
    log.append(b"", 100.2).unwrap();
    log.append(b"d\0\xff", 100.25).unwrap();
    assert_eq!(log.end_byte(), 7);
    assert_eq!(folder.read(folder::FRAMES), b"ab\0cd\0\xff");
    let (arrivals, n_bad) = read_arrivals(&folder.read(folder::ARRIVALS));
    let rows: Vec<_> = arrivals
        .iter()
        .map(|a| (a.end_byte, a.host_unix_s))
        .collect();
    assert_eq!((rows, n_bad), (vec![(3, 100.0), (7, 100.25)], 0));
}

#[test]
fn a_log_is_never_overwritten_and_has_one_writer() {
    let folder = Scratch::new("one-writer");
    let log = LogWriter::create(folder.path()).unwrap();
    let again = LogWriter::create(folder.path()).unwrap_err();
    assert_eq!(again.kind(), io::ErrorKind::AlreadyExists);
    let second = LogWriter::resume(folder.path()).unwrap_err();
    assert_eq!(
        second.to_string(),
        "another program is recording into this folder"
    );
    drop(log);
    assert!(LogWriter::resume(folder.path()).is_ok());
}

#[test]
#[cfg(unix)]
fn a_log_that_is_deleted_while_it_is_written_comes_back_whole() {
    let folder = Scratch::new("deleted");
    let mut log = LogWriter::create(folder.path()).unwrap();
    log.append(b"ab\0", 100.0).unwrap();
    fs::remove_dir_all(folder.path()).unwrap();
    log.append(b"cd\0", 100.5).unwrap();
    log.append(b"ef\0", 101.5).unwrap();
    assert_eq!(folder.read(folder::FRAMES), b"ab\0cd\0ef\0");
    assert_eq!(read_arrivals(&folder.read(folder::ARRIVALS)).0.len(), 3);
    assert!(LogWriter::resume(folder.path()).is_err(), "it is held");
    // Another file in its place is nobody's to overwrite.
    fs::remove_file(folder.path().join(folder::FRAMES)).unwrap();
    fs::write(folder.path().join(folder::FRAMES), "mine").unwrap();
    let refused = log.append(b"gh\0", 103.0).unwrap_err().to_string();
    assert!(
        refused.contains("another file stands in the place of"),
        "{refused}"
    );
    assert_eq!(folder.read(folder::FRAMES), b"mine");
    fs::remove_file(folder.path().join(folder::FRAMES)).unwrap();
    log.sync().unwrap();
    assert_eq!(folder.read(folder::FRAMES), b"ab\0cd\0ef\0gh\0");
}

#[test]
fn rows_of_bytes_that_the_disk_never_got_count_no_more() {
    let folder = Scratch::new("lost-bytes");
    fs::write(folder.path().join(folder::FRAMES), b"whole\0ha").unwrap();
    let rows = "end_byte,host_unix_s\n6,100.0\n40,101.0\n";
    fs::write(folder.path().join(folder::ARRIVALS), rows).unwrap();
    let mut log = LogWriter::resume(folder.path()).unwrap();
    log.append(b"new\0", 200.0).unwrap();
    log.append(&[7; 40], 201.0).unwrap();
    let (arrivals, n_bad) = read_arrivals(&folder.read(folder::ARRIVALS));
    let rows: Vec<_> = arrivals
        .iter()
        .map(|a| (a.end_byte, a.host_unix_s))
        .collect();
    assert_eq!(
        (rows, n_bad),
        (vec![(6, 100.0), (13, 200.0), (53, 201.0)], 1)
    );
}

#[test]
fn resuming_ends_half_a_frame_and_half_a_row() {
    let folder = Scratch::new("resume");
    fs::write(folder.path().join(folder::FRAMES), b"whole\0half").unwrap();
    fs::write(
        folder.path().join(folder::ARRIVALS),
        b"end_byte,host_unix_s\n6,100.0\n10,10",
    )
    .unwrap();
    let mut log = LogWriter::resume(folder.path()).unwrap();
    log.append(b"new\0", 200.0).unwrap();
    assert_eq!(folder.read(folder::FRAMES), b"whole\0half\0new\0");
    let (arrivals, n_bad) = read_arrivals(&folder.read(folder::ARRIVALS));
    let hosts: Vec<f64> = arrivals.iter().map(|a| a.host_unix_s).collect();
    assert_eq!(
        (hosts, n_bad),
        (vec![100.0, 200.0], 1),
        "10 was half of a number"
    );
}

#[test]
fn torn_foreign_and_backward_rows_are_counted() {
    let text = b"end_byte,host_unix_s\n5,10.0\nx,y\n4,11.0\n6,inf\n7,9.5\n8,12";
    let (arrivals, n_bad) = read_arrivals(text);
    let ends: Vec<u64> = arrivals.iter().map(|a| a.end_byte).collect();
    assert_eq!((ends, n_bad), (vec![5, 7], 4));
    assert_eq!(read_arrivals(b""), (Vec::new(), 0));
}
