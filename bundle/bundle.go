// Package bundle is the facade over one design: measure it, judge it, work out its bill of materials, render
// its sheet, pack it. Everything below it is repeatable: no clock, no network, no other program.
package bundle

import (
	"io/fs"

	"dropwright/bundle/check"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/measure"
	"dropwright/bundle/sheet"
)

// Source is one design, read but not measured.
type Source struct {
	FS       fs.FS // the design's folder; links must not lead out of it (os.Root)
	Manifest []byte
	Design   *design.Design
	House    *design.House
	Series   fs.FS // the series' folder, where its logo lies; nil: the sheet has none
}

// Work is one design, measured and judged.
type Work struct {
	Source
	Facts   *facts.Design
	Checked check.Result
	Remarks []string // errors that pass on the maker's word: printed in the sheet
	Builds  int      // how many builds the lists of a sheet are for; 0 is one, as in a bundle

	since   string                     // the revision that reprint compares with
	reprint map[string][]sheet.Reprint // by variant

	all *design.Design // what For took the design of one audience from; nil: nothing was taken out
}

// Examine measures a design and applies every rule. An error means that the machine failed.
func Examine(s Source, past check.Past, audience design.Audience, opt measure.Options) (*Work, error) {
	f, err := measure.Design(s.FS, s.Design, s.Manifest, s.House, opt)
	if err != nil {
		return nil, err
	}
	w := &Work{Source: s, Facts: f}
	f.Unportable = w.unportable()
	w.Checked = check.Run(check.Input{Design: s.Design, Facts: f, House: s.House, Past: past, For: audience})
	return w, nil
}
