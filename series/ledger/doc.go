// Package ledger keeps the append-only record of a series: what was promised, built, sent, confirmed,
// moved and withdrawn, when and with which hashes. It is what a release is resumed from, so it is
// written before and after every action, and trusted only while its chain is whole.
//
// It is not a log for debugging, holds no file contents, no addresses of people and no secrets, and does
// not decide what is due; that is package schedule's.
//
// # The format, version 1
//
// A ledger is a text file in UTF-8 with one JSON object a line, each line ended by "\n":
//
//		{"seq":7,"prev":"<64 hex>","sum":"<64 hex>","body":{"kind":"result", ...}}
//
//	  - seq counts from 1 without gaps and orders the ledger; times do not, because clocks jump;
//	  - prev is the sum of the line before, 64 zeros on line 1;
//	  - sum is the SHA-256 of the text "seq\nprev\n" followed by the bytes of body as they stand;
//	  - body is a [Record]; line 1 is always of kind "opened" and names format, series and whether it is a
//	    rehearsal.
//
// A line must be written exactly so, without spaces between the keys: a byte changed anywhere is found.
// Readers know every key and kind of their version and refuse others: acting on a record that one does
// not understand may release something twice. There is no second format; new kinds and keys raise the
// version, and every version ever written stays readable (testdata holds one ledger of each).
//
// # What may go wrong
//
// A last line without its "\n", or one that is no JSON object of this shape, is what a crash leaves: it is
// moved to a file of the same name with ".torn" added, reported in [Log.Torn], and work goes on from the
// line before. Anything else that does not fit is [Damage]: nothing may be released until a person has
// restored the file, because guessing could send a design twice or early.
//
// One process writes at a time, under a lock that the system frees when the process ends ([Flock]).
package ledger
