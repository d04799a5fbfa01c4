package bundle

import (
	"fmt"
	"io"
	"io/fs"
	"slices"

	"dropwright/bundle/bom"
	"dropwright/bundle/compare"
	"dropwright/bundle/design"
	"dropwright/bundle/photo"
	"dropwright/bundle/sheet"
)

// BOM works out the bill of materials.
func (k *Work) BOM(variants []string, builds int, boardTitle func(string) string) bom.BOM {
	return bom.Compute(k.Design, k.Facts, k.House, variants, builds, k.boardTitle(boardTitle))
}

// boardTitle names a board by its profile, which may be one of the design's own; other answers for the rest.
func (k *Work) boardTitle(other func(profile string) string) func(profile string) string {
	return func(profile string) string {
		if p, ok := k.profile(profile); ok {
			return p.Title.S
		}
		return other(profile)
	}
}

// Sheet composes the assembly sheet of one variant, as it lies in the bundle: without what the manifest marks for
// another audience, its links leading to the files beside it.
func (k *Work) Sheet(variant string, audience design.Audience, boardTitle func(string) string) *sheet.Sheet {
	return k.sheetPacker(variant, audience, boardTitle).sheet()
}

// Illustrated is Sheet with drawn pictures: every part as it stands on the bed, the assembly taken apart, and steps
// that have no picture of their own, where the places of the parts are known. Image gives their bytes. Text, which
// has no pictures, is better made of Sheet.
func (k *Work) Illustrated(variant string, audience design.Audience, boardTitle func(string) string) *sheet.Sheet {
	return k.sheetPacker(variant, audience, boardTitle).illustrated()
}

func (k *Work) sheetPacker(variant string, audience design.Audience, boardTitle func(string) string) *packer {
	p := &packer{k: k.For(audience), o: PackOptions{Variant: variant, Audience: audience, BoardTitle: boardTitle}}
	p.plan = p.items()
	return p
}

// MaxSheetSide is the longest side of a picture in a sheet, in pixels: 1600 fill the width of A4 at 200 dpi
// (8.27 in less margins), below what eyes tell apart on paper.
const MaxSheetSide = 1600

// Image gives a picture of the design as it may be published: decoded, turned, scaled and encoded anew; or, for the
// path of a drawn one, the drawing.
func (k *Work) Image(name string) (data []byte, mime string, err error) {
	if isDrawn(name) {
		return k.drawn(name, nil)
	}
	if name == logoName {
		data, mime, err = published(k.Series, string(k.House.Logo.V), MaxLogoSide)
		if err != nil {
			err = fmt.Errorf("logo %s: %w", k.House.Logo.V, err)
		}
		return data, mime, err
	}
	return published(k.FS, name, MaxSheetSide)
}

// published reads a picture and cleans it.
func published(from fs.FS, name string, side int) (data []byte, mime string, err error) {
	raw, err := fs.ReadFile(from, name)
	if err != nil {
		return nil, "", err
	}
	data, info, err := photo.Clean(raw, photo.Options{MaxSide: side})
	return data, "image/" + string(info.Format), err
}

// MaxLogoSide is the longest side of a logo in a sheet, in pixels: 50 mm at 300 dpi.
const MaxLogoSide = 600

// logoName stands in a sheet for the series' logo, which lies outside the design's folder.
const logoName = drawnFolder + "logo"

// logo is the picture at the head of the sheet, "" where the series has none.
func (k *Work) logo() string {
	if k.Series == nil || !k.House.Logo.Set() {
		return ""
	}
	return logoName
}

// ChangedSince compares the design with an older state of it, so that its sheets answer who built that one: which
// part must be printed anew? The design must have been measured for CompareTopics.
func (k *Work) ChangedSince(was *State) error {
	is := k.State(k.Design.Folder)
	d, err := Changes(was, is)
	if err != nil {
		return err
	}
	k.since, k.reprint = was.Revision, map[string][]sheet.Reprint{}
	for _, v := range k.Design.VariantNames() {
		if !slices.ContainsFunc(was.Variants, func(x compare.Variant) bool { return x.Name == v }) {
			continue // nobody can have built it
		}
		for _, p := range d.Parts {
			if p.Variant == "" || p.Variant == v {
				k.reprint[v] = append(k.reprint[v], sheet.Reprint{Part: p.Part, Answer: p.Reprint, Change: p.Change, Deviation: p.Deviation, Why: p.Why})
			}
		}
	}
	return nil
}

// reprintOf is what the sheet of a variant says of the parts that it has for its audience. A part that is gone is not
// among them: nobody prints it, and nothing tells any more whom it was for.
func (k *Work) reprintOf(variant string) []sheet.Reprint {
	var out []sheet.Reprint
	for _, r := range k.reprint[variant] {
		if p, ok := k.Design.Part(r.Part); ok && p.Only.Has(variant) {
			out = append(out, r)
		}
	}
	return out
}

// SheetHTML writes the assembly sheet as one HTML file that needs nothing beside it.
func (k *Work) SheetHTML(w io.Writer, variant string, audience design.Audience, boardTitle func(string) string) error {
	return k.Illustrated(variant, audience, boardTitle).HTML(w, k.Images())
}

// Shots is the list of pictures still to take.
func (k *Work) Shots(variant string, audience design.Audience) *sheet.Sheet {
	drawn := func(step int) *sheet.Picture {
		var first *sheet.Picture
		for _, v := range k.Design.VariantNames() {
			if !k.Design.Assembly[step].Only.Has(v) {
				continue
			}
			p := k.views(audience, v, nil).step(step)
			if p == nil {
				return nil // one variant has no drawing
			}
			if first == nil {
				first = p
			}
		}
		return first
	}
	return sheet.Shots(sheet.Input{Design: k.Design, Facts: k.Facts, House: k.House, Variant: variant, Audience: audience, StepImage: drawn})
}

// Announcement makes the text that goes with a drop, in the house's language. early and public are when each
// audience gets the design; the zero Moment is not known.
func (k *Work) Announcement(audience design.Audience, early, public sheet.Moment, boardTitle func(string) string) *sheet.Announcement {
	return sheet.Announce(sheet.Drop{Design: k.Design, Facts: k.Facts, House: k.House, BOM: k.BOM(k.Design.VariantNames(), 1, boardTitle),
		Audience: audience, Early: early, Public: public, Licence: k.Licence(audience), Later: k.Licence("public")})
}
