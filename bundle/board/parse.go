package board

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"dropwright/bundle/finding"
	"dropwright/bundle/source"
)

// Parse reads a profile from YAML text, strictly: unknown keys, wrong types, impossible figures and
// unknown names are findings with their place. The profile is nil only when the text cannot be read at
// all; with findings of level error it is not fit for use. file is the name shown in places.
func Parse(file string, data []byte) (*Profile, []finding.Finding) {
	root, _, found := source.Parse(file, data)
	if root == nil {
		return nil, found
	}
	p := &Profile{File: file}
	found = append(found, source.Decode(root, p)...)
	c := checker{}
	c.profile(p)
	found = append(found, c.found...)
	finding.Sort(found)
	return p, found
}

// most is the largest number of entries in any list of a profile: a hostile file must not make later
// checks slow.
const most = 400

type checker struct{ found []finding.Finding }

func (c *checker) wrong(at finding.Place, hint, format string, args ...any) {
	c.found = append(c.found, finding.New("value-wrong", at, fmt.Sprintf(format, args...), hint))
}

var idShape = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`) })

func (c *checker) profile(p *Profile) {
	if p.Format.Given && p.Format.V != 1 {
		c.wrong(p.Format.At, "write profile: 1", "profile: expected format 1, found %v", p.Format.V)
	}
	if s := p.ID.S; s != "" && (!idShape().MatchString(s) || len(s) > 48) {
		c.wrong(p.ID.At, "use lower-case letters, digits and single hyphens", "id: %q does not do as the name of a file", s)
	}
	c.word(p.Kind, "kind", "computer", "microcontroller", "carrier", "accessory")
	c.word(p.Datum.Origin, "origin", "lower-left")
	c.word(p.Datum.Z0, "z0", "board-top")
	c.outline(&p.Outline)
	c.area(p)
	c.ports(p)
	c.headers(p)
	c.rails(p)
	c.basis("basis_default", Basis{All: p.BasisAll})
	c.basis("basis", p.Basis)
	var ids []Text
	for _, s := range p.Sources {
		ids = append(ids, s.ID)
	}
	c.unique("source", ids)
	for name, n := range map[string]int{"mounts": len(p.Mounts), "zones": len(p.Heights.Zones), "keepouts": len(p.Keepouts), "ports": len(p.Ports), "headers": len(p.Headers), "rails": len(p.Rails), "polygon": len(p.Outline.Polygon)} {
		if n > most {
			c.wrong(p.At, "leave out what no check needs", "%s: expected up to %d entries, found %d", name, most, n)
		}
	}
}

func (c *checker) outline(o *Outline) {
	c.positive(o.Length, "length")
	c.positive(o.Width, "width")
	c.positive(o.Thickness, "thickness")
	c.atLeastZero(o.Tolerance, "tolerance")
	for _, r := range []Length{o.Corners.All, o.Corners.LowerLeft, o.Corners.LowerRight, o.Corners.UpperRight, o.Corners.UpperLeft} {
		c.atLeastZero(r, "corner_radius")
		if r.Given && o.Length.Given && o.Width.Given && 2*r.MM > min(o.Length.MM, o.Width.MM) {
			c.wrong(r.At, "check the radius", "corner_radius: %v mm is more than half the board's shorter side", r.MM)
		}
	}
	if len(o.Polygon) == 0 {
		return
	}
	twice := 0.0
	for i, v := range o.Polygon {
		x, y, ok := v.Pair()
		nx, ny, ok2 := o.Polygon[(i+1)%len(o.Polygon)].Pair()
		if !ok {
			c.wrong(v.At, "write a corner as [x, y]", "polygon: expected two figures, found %d", len(v.Items))
		}
		if !ok || !ok2 {
			return
		}
		if o.Length.Given && o.Width.Given && (x < -0.01 || y < -0.01 || x > o.Length.MM+0.01 || y > o.Width.MM+0.01) {
			c.wrong(v.At, "corners count from the lower left corner of the outline", "polygon: the corner %v, %v lies outside %v x %v mm", x, y, o.Length.MM, o.Width.MM)
		}
		twice += x*ny - nx*y
	}
	switch at := o.Polygon[0].At; {
	case len(o.Polygon) < 3:
		c.wrong(at, "an outline has at least three corners", "polygon: %d corners", len(o.Polygon))
	case twice <= 0:
		c.wrong(at, "list the corners the other way round", "polygon: the corners do not run counter-clockwise")
	}
}

// area checks everything that is a place on the board.
func (c *checker) area(p *Profile) {
	var ids []Text
	for _, m := range p.Mounts {
		ids = append(ids, m.ID)
		c.inside(p, m.X, m.Y, "mount "+m.ID.S)
		c.positive(m.Hole, "hole")
		c.positive(m.Land, "land")
		if m.Hole.Given && m.Land.Given && m.Land.MM < m.Hole.MM {
			c.wrong(m.Land.At, "land is the outer diameter kept free around the hole", "land: %v mm is less than the hole of %v mm", m.Land.MM, m.Hole.MM)
		}
		if s := m.Screw.S; s != "" && !screwShape().MatchString(s) {
			c.wrong(m.Screw.At, "write the thread only, such as M2.5", "screw: %q is not a thread", s)
		}
	}
	c.unique("mount", ids)
	h := p.Heights
	c.atLeastZero(h.Top, "top")
	c.atLeastZero(h.Bottom, "bottom")
	c.positive(h.Overall, "overall")
	ids = nil
	for _, z := range h.Zones {
		ids = append(ids, z.ID)
		c.word(z.Side, "side", "top", "bottom")
		c.rect(z.Rect)
		c.positive(z.Max, "max")
		c.basis("basis", z.Basis)
	}
	c.unique("zone", ids)
	ids = nil
	for _, k := range p.Keepouts {
		ids = append(ids, k.ID)
		c.word(k.Side, "side", "top", "bottom", "both")
		c.rect(k.Rect)
		c.positive(k.Depth, "depth")
		c.basis("basis", k.Basis)
	}
	c.unique("keepout", ids)
	for _, o := range p.Overhangs {
		c.word(o.Edge, "edge", "+x", "-x", "+y", "-y")
		c.span(o.X, "x")
		c.span(o.Y, "y")
		c.positive(o.Out, "out")
	}
	ids = nil
	for _, k := range p.Controls {
		ids = append(ids, k.ID)
		c.word(k.Side, "side", "top", "bottom")
		c.inside(p, k.X, k.Y, "control "+k.ID.S)
	}
	c.unique("control", ids)
}

var screwShape = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^M\d{1,2}(\.\d)?$`) })

func (c *checker) ports(p *Profile) {
	var ids []Text
	for _, port := range p.Ports {
		ids = append(ids, port.ID)
		c.word(port.Insertion, "insertion", "+x", "-x", "+y", "-y", "+z", "-z")
		c.word(port.Side, "side", "top", "bottom")
		for i, family := range append([]Text{port.Connector}, port.Alternatives...) {
			if _, ok := FamilyOf(family.S); ok || family.S == "" || i == 0 && family.S == apertureFamily {
				continue
			}
			hint := "known families: " + strings.Join(Families(), ", ")
			if near := finding.Nearest(family.S, Families()); near != "" {
				hint = "did you mean " + near + "?"
			}
			c.found = append(c.found, finding.New("name-unknown", family.At, fmt.Sprintf("no connector family is called %q", family.S), hint))
		}
		if port.Connector.S == apertureFamily && (!port.Aperture.Width.Given || !port.Aperture.Height.Given) {
			c.wrong(port.Connector.At, "add aperture: {width: …, height: …}", "a %s needs the size of its aperture", apertureFamily)
		}
		c.span(port.Box.X, "x")
		c.span(port.Box.Y, "y")
		c.span(port.Box.Z, "z")
		c.body(port.Plug)
		c.body(port.Aperture)
		c.basis("basis", port.Basis)
	}
	c.unique("port", ids)
}

// body checks the sizes of a plug or aperture.
func (c *checker) body(b Body) {
	c.positive(b.Width, "width")
	c.positive(b.Height, "height")
	c.positive(b.Depth, "depth")
	c.positive(b.Length, "length")
	c.positive(b.Round, "round")
}

func (c *checker) headers(p *Profile) {
	var ids []Text
	for i := range p.Headers {
		h := &p.Headers[i]
		ids = append(ids, h.ID)
		if strings.ContainsAny(h.ID.S, ". ") {
			c.wrong(h.ID.At, "wiring writes board.header.pin: leave out dots and blanks", "id: %q holds a dot or a blank", h.ID.S)
		}
		c.whole(h.Rows, "rows", 4)
		c.whole(h.Columns, "columns", 200)
		c.positive(h.Pitch, "pitch")
		c.word(h.Access, "access", "top", "bottom", "both", "none")
		c.word(h.Along, "along", "+x", "-x", "+y", "-y")
		for name, l := range map[string]Lengths{"pin1": h.Pin1, "pin0": h.Pin0, "first": h.First, "centre": h.Centre, "row_x": h.RowX} {
			if !l.IsZero() && !l.Given(2) {
				c.wrong(l.At, "write two figures in brackets", "%s: expected two figures, found %d", name, len(l.Items))
			}
		}
		c.span(h.Box.X, "x")
		c.span(h.Box.Y, "y")
		c.basis("basis", h.Basis)
		seen := map[string]bool{}
		for _, e := range h.Pins {
			if err := h.validPin(e.Key); err != nil {
				c.wrong(e.KeyAt, "pins are the numbers or names that the header has", "%v", err)
			}
			if seen[strings.ToUpper(e.Key)] {
				c.wrong(e.KeyAt, "keep one of the two", "pin %s stands here twice", e.Key)
			}
			seen[strings.ToUpper(e.Key)] = true
		}
	}
	c.unique("header", ids)
}

// count is the number of pins of the header; 0 when rows or columns are not known.
func (h *Header) count() int {
	if !h.Rows.Given || !h.Columns.Given {
		return 0
	}
	return int(h.Rows.V) * int(h.Columns.V)
}

// validPin says whether a pin can exist: a number up to the count, or a row letter with a number up to
// the columns. Headers counted from 0 have pin0.
func (h *Header) validPin(pin string) error {
	n := h.count()
	if n == 0 {
		return nil // rows or columns are missing: said elsewhere
	}
	low := 1
	if !h.Pin0.IsZero() {
		low = 0
	}
	if v, err := strconv.Atoi(pin); err == nil {
		if v < low || v > n-1+low {
			return fmt.Errorf("header %s has pins %d to %d, not %d", h.ID.S, low, n-1+low, v)
		}
		return nil
	}
	letter, digits := "", pin
	if len(pin) > 1 {
		letter, digits = strings.ToUpper(pin[:1]), pin[1:]
	}
	v, err := strconv.Atoi(digits)
	if err != nil || letter < "A" || letter > "Z" {
		return fmt.Errorf("header %s: %q is not a pin; write a number, or a row letter with a number", h.ID.S, pin)
	}
	if columns := int(h.Columns.V); v < low || v > columns-1+low {
		return fmt.Errorf("header %s has %d pins in a row, so there is no %s", h.ID.S, columns, pin)
	}
	return nil
}

func (c *checker) rails(p *Profile) {
	var ids []Text
	for _, r := range p.Rails {
		ids = append(ids, r.ID)
		if strings.ContainsAny(r.ID.S, ". ") {
			c.wrong(r.ID.At, "wiring writes board.rail: leave out dots and blanks", "id: %q holds a dot or a blank", r.ID.S)
		}
		if slices.ContainsFunc(p.Headers, func(h Header) bool { return h.ID.S == r.ID.S && r.ID.S != "" }) {
			c.found = append(c.found, finding.New("name-twice", r.ID.At, fmt.Sprintf("%q is a rail and a header", r.ID.S), "rename one of them"))
		}
		c.word(r.Role, "role", "input", "output", "return")
		c.word(r.Hazard, "hazard", "none", "mains", "lithium")
		if r.VoltsMin.Given && r.VoltsMax.Given && r.VoltsMin.V > r.VoltsMax.V {
			c.wrong(r.VoltsMin.At, "swap volts_min and volts_max", "volts_min: %v V is more than volts_max, %v V", r.VoltsMin.V, r.VoltsMax.V)
		} else if r.Volts.Given && (r.VoltsMin.Given && r.Volts.V < r.VoltsMin.V || r.VoltsMax.Given && r.Volts.V > r.VoltsMax.V) {
			c.wrong(r.Volts.At, "check the three figures", "volts: %v V lies outside volts_min and volts_max", r.Volts.V)
		}
		for name, n := range map[string]Number{"amps": r.Amps, "watts_guaranteed": r.Watts} {
			if n.Given && n.V < 0 {
				c.wrong(n.At, "write 0 or more", "%s: %v is less than 0", name, n.V)
			}
		}
		c.basis("basis", r.Basis)
	}
	c.unique("rail", ids)
}

// The small checks, each with the key it speaks of.

func (c *checker) word(t Text, key string, words ...string) {
	if t.S == "" || slices.Contains(words, t.S) {
		return
	}
	hint := "write one of: " + strings.Join(words, ", ")
	if near := finding.Nearest(t.S, words); near != "" {
		hint = "did you mean " + near + "?"
	}
	c.wrong(t.At, hint, "%s: expected one of %s, found %q", key, strings.Join(words, ", "), t.S)
}

func (c *checker) basis(key string, b Basis) {
	for _, t := range append([]Text{b.All}, texts(b.Each)...) {
		if _, ok := bases[t.S]; !ok && t.S != "" {
			words := make([]string, 0, len(bases))
			for w := range bases {
				words = append(words, w)
			}
			slices.Sort(words)
			c.word(t, key, words...)
		}
	}
}

func texts(e Entries) []Text {
	list := make([]Text, 0, len(e))
	for _, x := range e {
		list = append(list, x.Value)
	}
	return list
}

func (c *checker) positive(l Length, key string) {
	if l.Given && l.MM <= 0 {
		c.wrong(l.At, "write a length above 0", "%s: %v mm is not possible", key, l.MM)
	}
}

func (c *checker) atLeastZero(l Length, key string) {
	if l.Given && l.MM < 0 {
		c.wrong(l.At, "write a length of 0 or more", "%s: %v mm is not possible", key, l.MM)
	}
}

func (c *checker) whole(n Number, key string, high float64) {
	if n.Given && (n.V < 1 || n.V > high || n.V != float64(int(n.V))) {
		c.wrong(n.At, "write a whole number", "%s: expected a whole number from 1 to %v, found %v", key, high, n.V)
	}
}

func (c *checker) inside(p *Profile, x, y Length, what string) {
	o := p.Outline
	if !x.Given || !y.Given || !(o.Length.MM > 0 && o.Width.MM > 0) {
		return // said elsewhere
	}
	if x.MM < 0 || y.MM < 0 || x.MM > o.Length.MM || y.MM > o.Width.MM {
		c.wrong(x.At, "x and y count from the lower left corner, seen from the component side", "%s at %v, %v lies outside the outline of %v x %v mm", what, x.MM, y.MM, o.Length.MM, o.Width.MM)
	}
}

func (c *checker) rect(r Lengths) {
	x0, y0, x1, y1, ok := r.Rect()
	switch {
	case !ok && len(r.Items) != 4 && !r.IsZero():
		c.wrong(r.At, "write [x0, y0, x1, y1]", "rect: expected four figures, found %d", len(r.Items))
	case ok && (x0 >= x1 || y0 >= y1):
		c.wrong(r.At, "write the lower left corner first", "rect: %v, %v to %v, %v has no area", x0, y0, x1, y1)
	}
}

func (c *checker) span(r Lengths, key string) {
	a, b, ok := r.Pair()
	switch {
	case !ok && len(r.Items) != 2 && !r.IsZero():
		c.wrong(r.At, "write [min, max]", "%s: expected two figures, found %d", key, len(r.Items))
	case ok && a >= b:
		c.wrong(r.At, "write the smaller figure first", "%s: %v to %v is empty", key, a, b)
	}
}

func (c *checker) unique(what string, ids []Text) {
	first := map[string]finding.Place{}
	for _, id := range ids {
		if id.S == "" {
			continue
		}
		if at, ok := first[id.S]; ok {
			c.found = append(c.found, finding.New("name-twice", id.At, fmt.Sprintf("%s %q is already there, in line %d", what, id.S, at.Line), "rename one of the two"))
			continue
		}
		first[id.S] = id.At
	}
}
