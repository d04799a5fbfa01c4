package bundle

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"

	"github.com/invopop/jsonschema"

	"dropwright/bundle/bom"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
)

// CardForm is the form of bundle.json; it changes when a program that read it before no longer can.
const CardForm = "dropwright-bundle-1"

// card is a bundle in figures, for programs: everything that was measured of what is in it. A figure that is
// not known is absent.
type card struct {
	Form         string         `json:"form"`
	Design       string         `json:"design"`
	Title        string         `json:"title"`
	Summary      string         `json:"summary"`
	Revision     string         `json:"revision"`
	Date         string         `json:"date"`
	Variant      string         `json:"variant"`
	VariantTitle string         `json:"variant_title,omitempty"`
	Audience     string         `json:"audience"`
	Licence      string         `json:"licence"`
	Later        string         `json:"licence_later,omitempty"`
	Maker        string         `json:"maker"`
	MakerURL     string         `json:"maker_url,omitempty"`
	Content      string         `json:"content"`
	Photos       []cardPhoto    `json:"photos,omitempty"`
	Parts        []cardPart     `json:"parts"`
	Loads        []cardLoad     `json:"loads"`
	Fasteners    []cardFastener `json:"fasteners"`
	Wiring       []cardWire     `json:"wiring"`
	Steps        []cardStep     `json:"steps"`
	Joints       []facts.Joint  `json:"joints"`
	Boards       cardBoards     `json:"boards"`
	BOM          bom.BOM        `json:"bom"`
}

// cardPhoto is a picture in the bundle. Cover is the one that stands for the design.
type cardPhoto struct {
	File  string `json:"file"`
	Alt   string `json:"alt,omitempty"`
	Cover bool   `json:"cover,omitempty"`
}

// cardFastener is one entry of the manifest's fasteners as the variant has it.
type cardFastener struct {
	Name    string   `json:"name"`
	What    string   `json:"what"` // designation as the maker writes it
	Count   int      `json:"count"`
	Through []string `json:"through"`
	Into    string   `json:"into,omitempty"`
}

// cardWire is one row of the wiring.
type cardWire struct {
	From   string  `json:"from"`
	To     string  `json:"to"`
	Length float64 `json:"length_mm,omitempty"`
}

// cardStep is one step of the assembly.
type cardStep struct {
	Title    string      `json:"title"`
	Text     string      `json:"text,omitempty"`
	Uses     []cardCount `json:"uses"`
	Tools    []string    `json:"tools,omitempty"`
	Cautions []string    `json:"cautions,omitempty"`
	Times    int         `json:"times,omitempty"`
}

type cardCount struct {
	Name  string  `json:"name"`
	Count float64 `json:"count"`
}

// cardPart is one printed part: where its meshes lie, how it prints, what was measured of it.
type cardPart struct {
	Name     string          `json:"name"`
	Title    string          `json:"title,omitempty"`
	Kind     string          `json:"kind"` // part, jig, spare
	Role     string          `json:"role"` // colour role
	Filament string          `json:"filament"`
	Copies   int             `json:"copies"`
	Mirrored int             `json:"mirrored"`
	Optional bool            `json:"optional,omitempty"`
	Meshes   []string        `json:"meshes"`              // in the bundle
	Drawn    string          `json:"drawn_sha256"`        // of the maker's file, which the mesh was written from
	Stands   *[3]float64     `json:"stands_mm,omitempty"` // size as it stands on the bed
	StandOn  string          `json:"stand_on,omitempty"`  // face that lies on the bed
	FitsOn   []string        `json:"fits_on,omitempty"`   // printers of the series
	TurnedBy *float64        `json:"turned_by,omitempty"` // degrees about z at which it fits
	Estimate *facts.Estimate `json:"estimate,omitempty"`  // of one copy
	Allow    *float64        `json:"hole_allowance_mm,omitempty"`
	Print    string          `json:"print"`              // settings that strength and fit depend on, in words
	Measured *facts.Mesh     `json:"measured,omitempty"` // of the mesh as drawn; its file is the first of meshes
	Shape    *cardShape      `json:"shape,omitempty"`
}

// cardShape is what was looked for in a mesh beyond its measures.
type cardShape struct {
	Faces  [6]facts.Stand `json:"faces"`
	Best   string         `json:"best"`
	Thin   []float64      `json:"thin_mm2,omitempty"`
	Bodies []facts.Body   `json:"bodies,omitempty"`
}

// cardLoad is one bed to print.
type cardLoad struct {
	File     string     `json:"file"`
	Filament string     `json:"filament"`
	Printer  string     `json:"printer"`
	Bed      [3]float64 `json:"bed_mm"`
	Parts    []cardUse  `json:"parts"`
	Used     float64    `json:"used_mm2"`
	Share    float64    `json:"share"`
	Seconds  float64    `json:"seconds"`
	Grams    float64    `json:"grams"`
}

type cardUse struct {
	Name   string `json:"name"`
	Copies int    `json:"copies"`
}

// cardBoards is what was worked out of the variant's boards, fans and wires.
type cardBoards struct {
	Seats []facts.Seat    `json:"seats,omitempty"`
	Fans  []facts.FanSeat `json:"fans,omitempty"`
	Wires []facts.Wire    `json:"wires,omitempty"`
}

// CardSchema returns the JSON Schema (draft 2020-12) of bundle.json, worked out from the types that print it.
func CardSchema() []byte {
	r := &jsonschema.Reflector{ExpandedStruct: true, Anonymous: true}
	s := r.Reflect(&card{})
	s.ID = "urn:dropwright:bundle:1"
	s.Title = "A bundle in figures: bundle.json."
	orNull(s)
	for _, d := range s.Definitions {
		orNull(d)
	}
	out, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		panic("bundle: a schema of plain values cannot fail to print: " + err.Error())
	}
	return append(out, '\n')
}

// orNull lets the lists of a type be null, which is how an empty one may print, and the few figures that are null
// when there is nothing to say.
func orNull(s *jsonschema.Schema) {
	for at := s.Properties.Oldest(); at != nil; at = at.Next() {
		list := at.Value.Type == "array" && at.Value.MinItems == nil
		if at.Key == "travel_mm" { // a plug that never meets anything
			at.Value.Items = &jsonschema.Schema{AnyOf: []*jsonschema.Schema{at.Value.Items, {Type: "null"}}}
		}
		if list || at.Key == "sink" || at.Key == "unit_suspect" {
			at.Value = &jsonschema.Schema{AnyOf: []*jsonschema.Schema{at.Value, {Type: "null"}}}
		}
	}
}

func (p *packer) card(w io.Writer) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(p.cardOf())
}

func (p *packer) cardOf() card {
	k, d, v := p.k, p.k.Design, p.o.Variant
	va, _ := d.Variant(v)
	c := card{Form: CardForm, Design: d.Folder, Title: string(d.Title.V), Summary: string(d.Summary.V), Revision: d.Revision().String(), Date: d.Dated().String(),
		Variant: v, VariantTitle: string(va.Title.V), Audience: string(p.o.Audience), Licence: k.Licence(p.o.Audience), Later: k.later(p.o.Audience),
		Maker: string(k.House.Maker.Name.V), MakerURL: string(k.House.Maker.URL.V), Content: k.Facts.Content,
		Photos: p.cardPhotos(), Parts: p.cardParts(), Loads: p.cardLoads(), Joints: []facts.Joint{}, BOM: k.BOM([]string{v}, 1, p.o.BoardTitle)}
	mine := func(name string) bool { // no word of a part that this audience does not get
		if k.all == nil {
			return true
		}
		_, here := d.Part(name)
		_, there := k.all.Part(name)
		return here || !there
	}
	if f := k.Facts.Fit; f != nil {
		for _, j := range f.Joints {
			if j.Variant == v && !slices.ContainsFunc(j.Members, func(m facts.Member) bool { return !mine(m.Name) }) {
				c.Joints = append(c.Joints, j)
			}
		}
	}
	if b := k.Facts.Boards; b != nil {
		for _, s := range b.Seats {
			if s.Variant == v && mine(s.Part) {
				c.Boards.Seats = append(c.Boards.Seats, s)
			}
		}
		for _, s := range b.Fans {
			if s.Variant == v && mine(s.Part) {
				c.Boards.Fans = append(c.Boards.Fans, s)
			}
		}
		for _, s := range b.Wires {
			if s.Variant == v {
				c.Boards.Wires = append(c.Boards.Wires, s)
			}
		}
	}
	p.cardLists(&c)
	return c
}

// cardLists fills in what the manifest lists for the variant.
func (p *packer) cardLists(c *card) {
	d, v := p.k.Design, p.o.Variant
	c.Fasteners, c.Wiring, c.Steps = []cardFastener{}, []cardWire{}, []cardStep{}
	for _, f := range d.Fasteners {
		if !f.Only.Has(v) {
			continue
		}
		x := cardFastener{Name: string(f.Name.V), Count: f.CountOf(v), Through: []string{}, Into: intoWords(f.Into)}
		if what, ok := f.Designation(v); ok {
			x.What = string(what.V)
		}
		for _, t := range f.Through {
			x.Through = append(x.Through, string(t.V))
		}
		c.Fasteners = append(c.Fasteners, x)
	}
	for _, r := range d.Wiring.Rows {
		if r.Only.Has(v) {
			c.Wiring = append(c.Wiring, cardWire{string(r.From.V), string(r.To.V), float64(r.Length.V)})
		}
	}
	for _, s := range d.Assembly {
		if !s.Only.Has(v) {
			continue
		}
		x := cardStep{Title: string(s.Title.V), Text: string(s.Text.V), Uses: []cardCount{}}
		if f, ok := s.TextFile(); ok {
			x.Text, _ = p.k.Facts.Text(string(f))
		}
		if n := s.Repeats(); n > 1 {
			x.Times = n
		}
		for _, u := range s.Uses.Entries {
			if n, ok := u.Value.For(v); ok {
				x.Uses = append(x.Uses, cardCount{u.Key, float64(n.V)})
			}
		}
		for _, t := range s.Tools {
			x.Tools = append(x.Tools, string(t.V))
		}
		for _, t := range s.Cautions {
			x.Cautions = append(x.Cautions, string(t.V))
		}
		c.Steps = append(c.Steps, x)
	}
}

// intoWords says what a fastener goes into.
func intoWords(i design.Into) string {
	switch {
	case i.Held == nil:
		return string(i.Target.V)
	case i.Held.Insert != nil:
		return fmt.Sprintf("insert %s %s x %s in %s", i.Held.Insert.Thread.V, i.Held.Insert.Outer.V, i.Held.Insert.Length.V, i.Held.In.V)
	case i.Held.In.Set():
		return fmt.Sprintf("nut %s in %s", i.Held.Nut.V, i.Held.In.V)
	}
	return fmt.Sprintf("nut %s", i.Held.Nut.V)
}

// printWords are the settings that strength and fit depend on.
func printWords(x design.Part, house *design.House) string {
	s := x.Print.Over(house.Print)
	return fmt.Sprintf("layers of %s, %d walls, %s infill", s.Layer.V, s.Walls.V, s.Infill.V)
}

func (p *packer) cardParts() []cardPart {
	out := []cardPart{}
	for _, x := range p.printed() {
		name := string(x.part.Name.V)
		if n := len(out); n > 0 && out[n-1].Name == name { // the mirror image of the one before
			out[n-1].Meshes = append(out[n-1].Meshes, x.stl)
			out[n-1].Mirrored = x.count
			continue
		}
		c := cardPart{Name: name, Title: string(x.part.Title.V), Kind: string(x.part.Role.Or("part")), Role: string(x.part.Colour.V), Filament: p.filament(x.part),
			Optional: bool(x.part.Optional.V), Meshes: []string{x.stl}, StandOn: string(x.part.StandOn.V), Print: printWords(x.part, p.k.House)}
		c.Copies, c.Mirrored = x.part.CopiesOf(p.o.Variant)
		if f, ok := p.k.Facts.Part(name, p.o.Variant); ok {
			c.Stands, c.FitsOn, c.TurnedBy, c.Estimate, c.Allow = f.Stands, f.FitsOn, f.TurnedBy, f.Estimate, f.HoleAllowance
		}
		if m, ok := p.k.Facts.Mesh(x.file); ok {
			one := *m
			c.Drawn = one.SHA256
			one.File, one.SHA256 = x.stl, "" // the bundle's own file has another hash: SHA256SUMS has it
			c.Measured = &one
		}
		if s, ok := p.k.Facts.Solid(x.file); ok {
			c.Shape = &cardShape{Faces: s.Faces, Best: s.Best, Thin: s.Thin, Bodies: s.Bodies}
		}
		out = append(out, c)
	}
	return out
}

func (p *packer) cardPhotos() []cardPhoto {
	var out []cardPhoto
	for _, x := range p.k.Design.Photos {
		if x.Only.Has(p.o.Variant) {
			out = append(out, cardPhoto{p.photoName(string(x.File.V)), string(x.Alt.V), bool(x.Cover.V)})
		}
	}
	return out
}

func (p *packer) cardLoads() []cardLoad {
	out := []cardLoad{}
	for _, l := range p.loads {
		c := cardLoad{File: l.name, Filament: l.filament, Printer: l.printer, Bed: l.size, Used: l.Used, Share: l.Share, Seconds: l.Seconds, Grams: l.Grams}
		for i, x := range l.copies {
			n := 0
			for _, at := range l.Placed {
				if at.Item == i {
					n++
				}
			}
			if n > 0 {
				c.Parts = append(c.Parts, cardUse{x.name, n})
			}
		}
		out = append(out, c)
	}
	return out
}
