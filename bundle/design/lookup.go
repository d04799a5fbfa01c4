package design

import "dropwright/bundle/finding"

// VariantNames returns the design's variants in order; a design without variants has one, Plain.
func (d *Design) VariantNames() []string {
	if len(d.Variants) == 0 {
		return []string{Plain}
	}
	var out []string
	for _, v := range d.Variants {
		out = append(out, string(v.Name.V))
	}
	return out
}

// Variant returns a variant by name; for Plain without variants, an empty one.
func (d *Design) Variant(name string) (Variant, bool) {
	for _, v := range d.Variants {
		if string(v.Name.V) == name {
			return v, true
		}
	}
	return Variant{}, len(d.Variants) == 0 && name == Plain
}

// Board is the name that steps and wiring use for the one board of a variant.
const Board = "board"

// BoardList returns the boards of a variant; the short form (`board: …`) has the name "board".
func (v Variant) BoardList() []BoardUse {
	if v.Board.Set() {
		return append([]BoardUse{{At: v.Board.At, Name: Val[Name]{V: Board, At: v.Board.At}, Profile: v.Board, SitsIn: v.SitsIn, Seat: v.Seat}}, v.Boards...)
	}
	return v.Boards
}

// Part returns a part by name.
func (d *Design) Part(name string) (Part, bool) {
	for _, p := range d.Parts {
		if string(p.Name.V) == name {
			return p, true
		}
	}
	return Part{}, false
}

// BoughtPart returns a bought part by name.
func (d *Design) BoughtPart(name string) (Bought, bool) {
	for _, b := range d.Bought {
		if string(b.Name.V) == name {
			return b, true
		}
	}
	return Bought{}, false
}

// Fastener returns a fastener by name.
func (d *Design) Fastener(name string) (Fastener, bool) {
	for _, f := range d.Fasteners {
		if string(f.Name.V) == name {
			return f, true
		}
	}
	return Fastener{}, false
}

// PartsOf returns the parts of a variant that are printed (not references), in order.
func (d *Design) PartsOf(variant string) []Part {
	var out []Part
	for _, p := range d.Parts {
		if p.Only.Has(variant) && p.Role.V != "reference" {
			out = append(out, p)
		}
	}
	return out
}

// CopiesOf returns how many of a part a variant needs as drawn and mirrored. A part that is written only
// as mirrored has no copies as drawn.
func (p Part) CopiesOf(variant string) (drawn, mirrored int) {
	if m, ok := p.Mirrored.For(variant); ok {
		mirrored = int(m.V)
	}
	if c, ok := p.Copies.For(variant); ok {
		return int(c.V), mirrored
	}
	if p.Copies.Set() {
		return 0, mirrored
	}
	return 1, mirrored
}

// CountOf returns how many of a fastener a variant needs; 1 when no count is written.
func (f Fastener) CountOf(variant string) int {
	if c, ok := f.Count.For(variant); ok {
		return int(c.V)
	}
	if f.Count.Set() {
		return 0
	}
	return 1
}

// CountOf returns how many of a bought part a variant needs, in its unit; 1 when no count is written.
func (b Bought) CountOf(variant string) float64 {
	if c, ok := b.Count.For(variant); ok {
		return float64(c.V)
	}
	if b.Count.Set() {
		return 0
	}
	return 1
}

// Revision returns the present revision: the top entry of the changes.
func (d *Design) Revision() Revision {
	if len(d.Changes) == 0 {
		return Revision{}
	}
	return d.Changes[0].Revision.V
}

// Dated returns the date of the present revision.
func (d *Design) Dated() Date {
	if len(d.Changes) == 0 {
		return Date{}
	}
	return d.Changes[0].Date.V
}

// FileUse is one file that the manifest names, with where and why.
type FileUse struct {
	Path Path
	At   finding.Place
	Kind string // "mesh", "source", "toolpath", "photo", "step picture", "story", "step text", "extra", "board profile", "pins"
}

// Files returns every file that the manifest names, in order of the manifest; a file named twice stands twice.
func (d *Design) Files() []FileUse {
	var out []FileUse
	add := func(v Val[Path], kind string) {
		if v.Set() && v.V != "" {
			out = append(out, FileUse{v.V, v.At, kind})
		}
	}
	add(d.Story, "story")
	for _, v := range d.Variants {
		for _, b := range v.BoardList() {
			if IsFile(string(b.Profile.V)) {
				out = append(out, FileUse{Path(b.Profile.V), b.Profile.At, "board profile"})
			}
		}
	}
	for _, p := range d.Parts {
		for _, m := range p.Mesh.Values() {
			add(m, "mesh")
		}
		for _, f := range p.From.Items {
			add(f, "source")
		}
		add(p.Toolpath, "toolpath")
	}
	add(d.PinsIn, "pins")
	for _, s := range d.Assembly {
		if f, ok := s.TextFile(); ok {
			out = append(out, FileUse{f, s.Text.At, "step text"})
		}
		add(s.Picture.File, "step picture")
	}
	for _, p := range d.Photos {
		add(p.File, "photo")
	}
	for _, e := range d.Extras {
		add(e.File, "extra")
	}
	return out
}

// TextFile returns the Markdown file of a step whose text names one.
func (s Step) TextFile() (Path, bool) {
	t := string(s.Text.V)
	if len(t) > 3 && t[len(t)-3:] == ".md" && !containsSpace(t) {
		return Path(t), true
	}
	return "", false
}

// IsFile reports whether a board's profile names a file of the design rather than a built-in id.
func IsFile(profile string) bool {
	return len(profile) > 5 && (profile[len(profile)-5:] == ".yaml" || profile[len(profile)-4:] == ".yml")
}

func containsSpace(s string) bool {
	for i := range len(s) {
		if s[i] == ' ' || s[i] == '\n' || s[i] == '\t' {
			return true
		}
	}
	return false
}
