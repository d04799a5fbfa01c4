package bundle

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"path"
	"sort"
	"strings"
	"time"

	"dropwright/bundle/archive"
	"dropwright/bundle/bom"
	"dropwright/bundle/design"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
	"dropwright/bundle/mesh/threemf"
	"dropwright/bundle/photo"
)

// Packed says what one bundle is.
type Packed struct {
	Design, Revision, Variant, Audience string
	Name                                string // file name of the zip
	Digest                              archive.Hash
	Files                               []archive.File
	Bytes                               int64
}

// BundleName is the file name of a bundle without its ending: also its top folder.
func BundleName(d *design.Design, variant string, audience design.Audience) string {
	name := d.Folder + "-" + d.Revision().String()
	if variant != design.Plain {
		name += "-" + variant
	}
	return name + "-" + string(audience)
}

// Noon is noon UTC of the revision's date: the only time inside a bundle.
func Noon(d *design.Design) time.Time {
	t := d.Dated()
	return time.Date(t.Year, time.Month(t.Month), t.Day, 12, 0, 0, 0, time.UTC)
}

// PackOptions is what a bundle needs beside the design.
type PackOptions struct {
	Variant    string
	Audience   design.Audience
	BoardTitle func(profile string) string
	Sign       func(sums []byte) ([]byte, error) // nil: unsigned
}

// Pack writes the bundle of one variant for one audience as a zip to w. The design must be without errors;
// the caller has judged that.
func (k *Work) Pack(ctx context.Context, w io.Writer, o PackOptions) (Packed, error) {
	entries, err := k.entries(o)
	if err != nil {
		return Packed{}, err
	}
	name := BundleName(k.Design, o.Variant, o.Audience)
	res, err := archive.Write(ctx, w, entries, archive.Options{Top: name, Time: Noon(k.Design), Sign: o.Sign})
	if err != nil {
		return Packed{}, err
	}
	return Packed{Design: k.Design.Folder, Revision: k.Design.Revision().String(), Variant: o.Variant, Audience: string(o.Audience),
		Name: name + ".zip", Digest: res.Digest, Files: res.Files, Bytes: res.Bytes}, nil
}

// entries composes what goes into a bundle: nothing that the manifest does not name, nothing private.
func (k *Work) entries(o PackOptions) ([]archive.Entry, error) {
	p := &packer{k: k, o: o, have: map[string]bool{}}
	p.meshes()
	p.sources()
	p.pictures()
	p.extras()
	p.papers()
	return p.out, p.err
}

type packer struct {
	k    *Work
	o    PackOptions
	out  []archive.Entry
	have map[string]bool
	err  error
}

func (p *packer) add(name string, data []byte) {
	if p.err != nil || p.have[name] {
		return
	}
	p.have[name] = true
	p.out = append(p.out, archive.Entry{Path: name, Data: data})
}

func (p *packer) fail(name string, err error) {
	if p.err == nil && err != nil {
		p.err = fmt.Errorf("packing %s: %w", name, err)
	}
}

func (p *packer) read(name string) []byte {
	data, err := fs.ReadFile(p.k.FS, name)
	p.fail(name, err)
	return data
}

// meshes writes each printed part afresh, so that no header, name or path of the maker's machine comes
// along, with its copies and colour in the name; the mirror image is made where the manifest asks for one.
func (p *packer) meshes() {
	d := p.k.Design
	for _, x := range d.PartsOf(p.o.Variant) {
		if x.Audience.Set() && x.Audience.V != p.o.Audience {
			continue
		}
		file, ok := x.Mesh.For(p.o.Variant)
		if !ok {
			continue
		}
		m, err := p.solid(string(file.V))
		if err != nil {
			p.fail(string(file.V), err)
			return
		}
		colour := string(x.Colour.V)
		if pal, ok := d.Colours.Get(colour); ok {
			colour = string(pal.First().V)
		}
		drawn, mirrored := x.CopiesOf(p.o.Variant)
		if drawn > 0 {
			p.mesh(fmt.Sprintf("meshes/%s_%dx_%s.stl", x.Name.V, drawn, colour), m)
		}
		if mirrored > 0 {
			p.mesh(fmt.Sprintf("meshes/%s-mirrored_%dx_%s.stl", x.Name.V, mirrored, colour), mesh.Mirror(m))
		}
	}
}

func (p *packer) mesh(name string, m *mesh.Mesh) {
	var b bytes.Buffer
	p.fail(name, stl.Write(&b, m))
	p.add(name, b.Bytes())
}

func (p *packer) solid(name string) (*mesh.Mesh, error) {
	data := p.read(name)
	if p.err != nil {
		return nil, p.err
	}
	if bytes.HasPrefix(data, []byte("PK")) {
		m, err := threemf.Decode(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			return nil, err
		}
		return m.Mesh(), nil
	}
	m, _, err := stl.Decode(data)
	return m, err
}

// sources packs the editable files that the manifest names.
func (p *packer) sources() {
	for _, x := range p.k.Design.PartsOf(p.o.Variant) {
		for _, f := range x.From.Items {
			p.add("sources/"+strings.TrimPrefix(string(f.V), "cad/"), p.read(string(f.V)))
		}
	}
}

// MaxPhotoSide is the longest side of a photo in a bundle, in pixels: sharp on a full screen, small enough
// to mail. Common practice, no source.
const MaxPhotoSide = 2000

// pictures packs the photos, decoded, turned, scaled and encoded anew.
func (p *packer) pictures() {
	for _, x := range p.k.Design.Photos {
		if !x.Only.Has(p.o.Variant) {
			continue
		}
		name := string(x.File.V)
		data, info, err := photo.Clean(p.read(name), photo.Options{MaxSide: MaxPhotoSide})
		if err != nil {
			p.fail(name, err)
			return
		}
		p.add("photos/"+pictureName(name, info.Format), data)
	}
}

// pictureName gives a picture the ending of what it now is.
func pictureName(name string, f photo.Format) string {
	ext := ".jpg"
	if f == photo.PNG {
		ext = ".png"
	}
	base := path.Base(name)
	return strings.TrimSuffix(base, path.Ext(base)) + ext
}

func (p *packer) extras() {
	for _, x := range p.k.Design.Extras {
		if x.Audience.Set() && x.Audience.V != p.o.Audience || !x.Only.Has(p.o.Variant) {
			continue
		}
		p.add("extras/"+path.Base(string(x.File.V)), p.read(string(x.File.V)))
	}
}

// papers writes what people read: the sheet, the bill of materials, the licence, the changes.
func (p *packer) papers() {
	if p.err != nil {
		return
	}
	var html, csv bytes.Buffer
	b := p.k.BOM([]string{p.o.Variant}, 1, p.o.BoardTitle)
	p.fail("bom.csv", b.WriteCSV(&csv))
	p.add("bom.csv", csv.Bytes())
	p.fail("sheet.html", p.k.SheetHTML(&html, p.o.Variant, p.o.Audience, p.o.BoardTitle))
	p.add("sheet.html", html.Bytes())
	p.add("LICENCE.txt", []byte(p.licence()))
	p.add("CHANGES.txt", []byte(p.changes()))
	p.add("bundle.json", p.card())
	p.add("README.txt", []byte(p.readme()))
}

// Licence is the SPDX id that the models carry: the design's own, or the series'. The early bundle carries
// the series' early licence until the public day, when there is one.
func (k *Work) Licence(audience design.Audience) string {
	if audience != "public" && k.House.EarlyLicence.Set() {
		return string(k.House.EarlyLicence.V)
	}
	for _, l := range []design.Val[design.Text]{k.Design.Licences.Models, k.Design.Licence, k.House.Licence} {
		if l.Set() {
			return string(l.V)
		}
	}
	return ""
}

func (p *packer) licence() string {
	var b strings.Builder
	id := p.k.Licence(p.o.Audience)
	fmt.Fprintf(&b, "SPDX-License-Identifier: %s\n\n", id)
	fmt.Fprintf(&b, "%s by %s.\n", p.k.Design.Title.V, p.k.House.Maker.Name.V)
	if strings.HasPrefix(id, "LicenseRef-") {
		fmt.Fprintf(&b, "%s is the maker's own licence; ask %s for its text.\n", id, p.k.House.Maker.Name.V)
		if p.o.Audience != "public" {
			later := Work{Source: p.k.Source}
			fmt.Fprintf(&b, "From its public day on the design is offered under %s.\n", later.Licence("public"))
		}
	} else {
		fmt.Fprintf(&b, "The text of the licence: https://spdx.org/licenses/%s.html\n", id)
	}
	if l := p.k.Design.Licences; l.Texts.Set() {
		fmt.Fprintf(&b, "Texts and pictures: %s\n", l.Texts.V)
	}
	if l := p.k.Design.Licences; l.Code.Set() {
		fmt.Fprintf(&b, "Code: %s\n", l.Code.V)
	}
	if t := p.k.Design.ExtraTerms; t.Set() {
		fmt.Fprintf(&b, "Beside the licence the maker asks: %s\n", t.V)
	}
	for _, c := range p.k.Design.Credits {
		fmt.Fprintf(&b, "Credit: %s, by %s", c.What.V, c.By.V)
		if c.Licence.Set() {
			fmt.Fprintf(&b, " (%s)", c.Licence.V)
		}
		if c.Link.Set() {
			fmt.Fprintf(&b, ", %s", c.Link.V)
		}
		if c.Changed.Set() {
			fmt.Fprintf(&b, "; changed: %s", c.Changed.V)
		}
		b.WriteString("\n")
	}
	return b.String()
}

func (p *packer) changes() string {
	var b strings.Builder
	for _, c := range p.k.Design.Changes {
		fmt.Fprintf(&b, "%s  %s  %s\n", c.Revision.V, c.Date.V, c.Text.V)
	}
	return b.String()
}

// card is the bundle in figures, for programs.
func (p *packer) card() []byte {
	type card struct {
		Form     string  `json:"form"`
		Design   string  `json:"design"`
		Title    string  `json:"title"`
		Revision string  `json:"revision"`
		Date     string  `json:"date"`
		Variant  string  `json:"variant"`
		Audience string  `json:"audience"`
		Licence  string  `json:"licence"`
		Maker    string  `json:"maker"`
		Content  string  `json:"content"`
		BOM      bom.BOM `json:"bom"`
	}
	d := p.k.Design
	out, err := json.MarshalIndent(card{"dropwright-bundle-1", d.Folder, string(d.Title.V), d.Revision().String(), d.Dated().String(), p.o.Variant, string(p.o.Audience),
		p.k.Licence(p.o.Audience), string(p.k.House.Maker.Name.V), p.k.Facts.Content, p.k.BOM([]string{p.o.Variant}, 1, p.o.BoardTitle)}, "", "  ")
	p.fail("bundle.json", err)
	return append(out, '\n')
}

func (p *packer) readme() string {
	d := p.k.Design
	var b strings.Builder
	fmt.Fprintf(&b, "%s %s, %s\n%s\n\nby %s", d.Title.V, d.Revision(), d.Dated(), d.Summary.V, p.k.House.Maker.Name.V)
	if u := p.k.House.Maker.URL; u.Set() {
		fmt.Fprintf(&b, ", %s", u.V)
	}
	b.WriteString("\n\nOpen sheet.html in a browser: it says what to print, what to order, and how to build it.\n\n")
	names := make([]string, 0, len(p.have))
	for n := range p.have {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		fmt.Fprintf(&b, "  %s\n", n)
	}
	b.WriteString("  README.txt\n  SHA256SUMS\n\n")
	b.WriteString("meshes/NAME_2x_COLOUR.stl: print it twice in that colour; -mirrored is the mirror image, ready to print.\n")
	b.WriteString("To see that nothing was damaged on the way: sha256sum -c SHA256SUMS (Linux), shasum -a 256 -c SHA256SUMS (macOS).\n\n")
	b.WriteString("Printing, soldering irons, blades, batteries and mains can hurt. Follow the cautions of the sheet, the\ninstructions of your tools and your local rules; leave mains work to licensed people.\n")
	return b.String()
}
