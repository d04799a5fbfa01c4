package bundle

import (
	"io"
	"io/fs"

	"dropwright/bundle/bom"
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
	raw, err := fs.ReadFile(k.FS, name)
	if err != nil {
		return nil, "", err
	}
	data, info, err := photo.Clean(raw, photo.Options{MaxSide: MaxSheetSide})
	return data, "image/" + string(info.Format), err
}

// SheetHTML writes the assembly sheet as one HTML file that needs nothing beside it.
func (k *Work) SheetHTML(w io.Writer, variant string, audience design.Audience, boardTitle func(string) string) error {
	return k.Illustrated(variant, audience, boardTitle).HTML(w, k.Images())
}

// Shots is the list of pictures still to take.
func (k *Work) Shots(variant string, audience design.Audience) *sheet.Sheet {
	return sheet.Shots(sheet.Input{Design: k.Design, Facts: k.Facts, House: k.House, Variant: variant, Audience: audience})
}

// Announcement makes the text that goes with a drop, in the house's language. early and public are when each
// audience gets the design; the zero Moment is not known.
func (k *Work) Announcement(audience design.Audience, early, public sheet.Moment, boardTitle func(string) string) *sheet.Announcement {
	return sheet.Announce(sheet.Drop{Design: k.Design, Facts: k.Facts, House: k.House, BOM: k.BOM(k.Design.VariantNames(), 1, boardTitle),
		Audience: audience, Early: early, Public: public, Licence: k.Licence(audience), Later: k.Licence("public")})
}
