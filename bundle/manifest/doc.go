// Package manifest turns the text of a design.yaml into a design.Design and says, with places, what in it
// cannot be meant: unknown keys and names, wrong values, duplicates, paths that leave the folder.
//
// It opens no files: whether a named mesh exists is check's question. Nor does it know the series: whether a
// filament exists is asked with Context.
package manifest
