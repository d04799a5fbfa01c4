// Package release carries a plan out: it fixes what a revision is, sends it to the places of its audience,
// and writes down what it did, so that a run that is killed at any point is completed by the next one, on
// this machine or another.
//
// It decides no dates (package schedule does), packs nothing itself (a [Builder] is handed in), and never
// deletes what went out.
//
// # What is promised
//
//   - Nothing goes to a place before its audience's instant: the clock is asked before every drop, and places
//     that bear another series', audience's or rehearsal's mark are refused before the first byte.
//   - A revision is fixed once, at its first drop, for both kinds of bundle: the zips go into the store by
//     their SHA-256, the revision is tagged, the digests go into the ledger. The public day sends those bytes.
//     If they are lost they are made again from the tag and must have the same content digest.
//   - A drop is: intent into the ledger; every file, created, never replaced; the list of checksums; then the
//     pages, the index last; result into the ledger. Each step may be repeated. What a reader finds named in
//     the index is there.
//   - Before a place gets anything it is compared with the ledger: a place or a ledger that was restored from
//     an older copy, or files that were exchanged, stop the run until [Runner.Repair] accepts them.
//
// A rehearsal is the same with channels marked so, a ledger of its own and a history that fixes nothing. One
// run serves rehearsals or real drops, never both.
//
// # Names at a place
//
//	dropwright-target.json            whose place it is
//	DESIGN/REVISION/BUNDLE.zip        one a variant
//	DESIGN/REVISION/announcement.txt  the text to post
//	DESIGN/REVISION/SHA256SUMS
//	index.html, feed.atom, ...        generated pages, if any (Runner.Pages): replaced where they differ
//	RELEASES.txt                      for people: what is there, withdrawn revisions first
//	release.json                      for programs: the index, written last
//
// An outbox for posting by hand has a folder a post instead of the first three of a design (package
// target/hand), and the index.
package release
