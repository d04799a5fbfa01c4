// Package archive turns entries (a path and its bytes) into one zip that is the same to the byte
// wherever and whenever it is made, adds SHA256SUMS and, when a signer is handed in, its SSH
// signature, and later says whether such a zip, or the folder it was unpacked to, is still what was
// packed. It also writes single files so that no half of one is ever seen (WriteFile).
//
// It is not for zips in general. It knows no design, reads no clock and opens no network or agent.
// Read refuses everything that Write never produces, because what Write does not produce was put
// there by somebody else.
//
// # Two promises
//
// The content digest (Digest) depends on the paths, sizes and SHA-256 hashes of the entries alone.
// Its format, below, never changes. The bytes of the zip are the same for the same build of the
// program only: the deflate encoder of the standard library has changed between Go releases and
// will again, so a zip that went out is kept, never made anew.
//
// The content digest is the SHA-256 of this text, in UTF-8 with LF line ends:
//
//	dropwright-content-1
//	<64 lower-case hex digits: SHA-256 of the file> <size in bytes, decimal> <path below the top folder>
//
// one line per file, sorted by the bytes of the path; SHA256SUMS and SHA256SUMS.sig are not listed,
// since both follow from the rest.
//
// # Conventions
//
// Paths are slash-separated, relative to the top folder of the zip, in Unicode form NFC, and sorted
// by their bytes. Sizes are bytes. Hashes print as lower-case hex.
package archive
