// Package examples holds the demo season: the twelve weekly garden instruments of an invented workshop, as a
// maker would keep them. The season is embedded, so that `demo` runs with nothing but the program.
//
// It is not a place for broken input: that lives in the folder broken, which is not embedded. Meshes and
// pictures are made from the CAD sources beside them by allotment-instruments/make-meshes.sh and committed,
// so that nobody needs OpenSCAD to run the season.
package examples

import (
	"embed"
	"io/fs"
)

//go:embed all:allotment-instruments
var files embed.FS

// Season is the demo season, rooted at its own folder: series.yaml lies at the top. It is read-only and safe
// for concurrent use.
var Season = mustSub(files, "allotment-instruments")

// mustSub panics only for a name that is no valid path, which the constant above is.
func mustSub(fsys fs.FS, dir string) fs.FS {
	sub, err := fs.Sub(fsys, dir)
	if err != nil {
		panic(err)
	}
	return sub
}
