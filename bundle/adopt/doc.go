// Package adopt reads a maker's folder as it was left (meshes, a readme, a parts list, photos) and drafts the
// manifest of a design from it.
//
// Read looks through the folder and returns a Draft: proposals, each with where it came from and how sure it
// is. Draft.Manifest is the text of a design.yaml that says both in comments; Draft.Findings are what in the
// folder contradicts what. Update compares a manifest with the meshes that lie beside it now.
//
// It is not a judge of the design (package check is, once the manifest is there), and it writes nothing: the
// folder is read through a file system handed in, links are not followed, and everything read has a limit.
//
// # How sure
//
// Sure is what the folder says in so many words and what was measured agrees with; Likely is said once, or
// measured alone; a Guess has to be looked at by the maker. Nothing that two places of the folder disagree on
// is sure.
//
// The same folder gives the same text, byte for byte: files are taken in the order of their names, and nothing
// depends on the clock, on file times of the disk, or on the number of processors.
//
// Lengths are millimetres. Places count lines and bytes from 1 in the text as decoded.
package adopt
