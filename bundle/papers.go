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
	return bom.Compute(k.Design, k.Facts, k.House, variants, builds, boardTitle)
}

// Sheet composes the assembly sheet of one variant.
func (k *Work) Sheet(variant string, audience design.Audience, boardTitle func(string) string) *sheet.Sheet {
	return sheet.Compose(sheet.Input{
		Design: k.Design, Facts: k.Facts, House: k.House, BOM: k.BOM([]string{variant}, 1, boardTitle),
		Variant: variant, Audience: audience, Licence: k.Licence(audience), Content: k.Facts.Content[:12], BoardTitle: boardTitle, Remarks: k.Remarks,
	})
}

// MaxSheetSide is the longest side of a picture in a sheet, in pixels: 1600 fill the width of A4 at 200 dpi
// (8.27 in less margins), below what eyes tell apart on paper.
const MaxSheetSide = 1600

// Image gives a picture of the design as it may be published: decoded, turned, scaled and encoded anew.
func (k *Work) Image(name string) (data []byte, mime string, err error) {
	raw, err := fs.ReadFile(k.FS, name)
	if err != nil {
		return nil, "", err
	}
	data, info, err := photo.Clean(raw, photo.Options{MaxSide: MaxSheetSide})
	return data, "image/" + string(info.Format), err
}

// SheetHTML writes the assembly sheet as one HTML file that needs nothing beside it.
func (k *Work) SheetHTML(w io.Writer, variant string, audience design.Audience, boardTitle func(string) string) error {
	return k.Sheet(variant, audience, boardTitle).HTML(w, k.Image)
}
