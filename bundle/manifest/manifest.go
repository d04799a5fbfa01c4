package manifest

import (
	"fmt"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/source"
)

// Context is what a manifest's names may refer to outside itself.
type Context struct {
	Filaments []string // names of the series' filaments; nil: not known, not judged
	Boards    []string // ids of built-in board profiles; nil: not known, not judged
	Audiences []string // names beside early and public
}

// Decode reads a manifest. folder is the design's name. The design is nil when the text cannot be read at
// all; with findings of level error it is what could be read, good enough to judge the rest.
func Decode(folder, file string, data []byte, ctx Context) (*design.Design, *source.Text, []finding.Finding) {
	root, text, found := source.Parse(file, data)
	if root == nil {
		return nil, text, found
	}
	d := &design.Design{Folder: folder, File: file}
	found = append(found, source.Decode(root, d)...)
	found = append(found, Fresh(refer(d, ctx), found)...)
	finding.Sort(found)
	return d, text, found
}

// Fresh drops the findings whose place has one already: a value that could not be read is not judged again.
func Fresh(more, have []finding.Finding) []finding.Finding {
	taken := map[finding.Place]bool{}
	for _, f := range have {
		taken[f.At] = true
	}
	return slices.DeleteFunc(more, func(f finding.Finding) bool { return taken[f.At] })
}

// refer checks names within one design: each unique in its list, each reference known.
func refer(d *design.Design, ctx Context) []finding.Finding {
	r := &referrer{d: d}
	r.unique()
	r.variants(ctx)
	r.colours(ctx)
	r.parts()
	r.fasteners()
	r.wiring()
	r.steps()
	r.forms()
	return r.found
}

type referrer struct {
	d     *design.Design
	found []finding.Finding
}

func (r *referrer) add(code string, at finding.Place, text, hint string) {
	r.found = append(r.found, finding.New(code, at, text, hint))
}

// known reports an unknown name with the nearest known one.
func (r *referrer) known(name string, at finding.Place, what string, list []string) {
	if name == "" || !at.Known() {
		return
	}
	for _, k := range list {
		if k == name {
			return
		}
	}
	hint := fmt.Sprintf("this design lists no %s; add it or mend the name", what)
	if len(list) > 0 {
		hint = fmt.Sprintf("known: %s", strings.Join(shorten(list), ", "))
	}
	if near := finding.Nearest(name, list); near != "" {
		hint = "did you mean " + near + "?"
	}
	r.add("name-unknown", at, fmt.Sprintf("no %s is called %q", what, name), hint)
}

func shorten(list []string) []string {
	if len(list) > 12 {
		return append(list[:12:12], "…")
	}
	return list
}

func (r *referrer) names() (parts, bought, fasteners, boards, made []string) {
	for _, p := range r.d.Parts {
		parts = append(parts, string(p.Name.V))
	}
	for _, b := range r.d.Bought {
		bought = append(bought, string(b.Name.V))
	}
	for _, f := range r.d.Fasteners {
		fasteners = append(fasteners, string(f.Name.V))
	}
	seen := map[string]bool{}
	for _, v := range r.d.Variants {
		for _, b := range v.BoardList() {
			if n := string(b.Name.V); !seen[n] {
				seen[n] = true
				boards = append(boards, n)
			}
		}
	}
	for _, s := range r.d.Assembly {
		if s.Makes.Set() {
			made = append(made, string(s.Makes.V))
		}
	}
	return
}

func (r *referrer) unique() {
	type nameAt struct {
		name string
		at   finding.Place
		what string
	}
	check := func(list []nameAt) {
		first := map[string]nameAt{}
		for _, n := range list {
			if n.name == "" {
				continue
			}
			if f, ok := first[n.name]; ok {
				r.add("name-twice", n.at, fmt.Sprintf("the name %q is taken: %s in line %d", n.name, f.what, f.at.Line), "give one of the two another name")
				continue
			}
			first[n.name] = n
		}
	}
	var items, variants []nameAt
	for _, p := range r.d.Parts {
		items = append(items, nameAt{string(p.Name.V), p.Name.At, "a part"})
	}
	for _, b := range r.d.Bought {
		items = append(items, nameAt{string(b.Name.V), b.Name.At, "a bought part"})
	}
	for _, f := range r.d.Fasteners {
		items = append(items, nameAt{string(f.Name.V), f.Name.At, "a fastener"})
	}
	seen := map[string]bool{}
	for _, v := range r.d.Variants {
		variants = append(variants, nameAt{string(v.Name.V), v.Name.At, "a variant"})
		for _, b := range v.BoardList() { // the same board name in several variants is how they share steps
			if n := string(b.Name.V); !seen[n] {
				seen[n] = true
				items = append(items, nameAt{n, b.Name.At, "a board"})
			}
		}
		var own []nameAt
		for _, b := range v.BoardList() {
			own = append(own, nameAt{string(b.Name.V), b.Name.At, "a board"})
		}
		check(own)
	}
	for _, reserved := range []string{design.Washer} {
		for _, it := range items {
			if it.name == reserved {
				r.add("name-twice", it.at, fmt.Sprintf("the name %q is a word of the manifest", it.name), "give it another name")
			}
		}
	}
	check(items)
	check(variants)
	var made []nameAt
	listed := map[string]bool{}
	for _, it := range items {
		listed[it.name] = true
	}
	for _, s := range r.d.Assembly {
		if s.Makes.Set() && listed[string(s.Makes.V)] {
			made = append(made, nameAt{string(s.Makes.V), s.Makes.At, ""})
		}
	}
	for _, m := range made {
		r.add("name-twice", m.at, fmt.Sprintf("the name %q of this sub-assembly is taken by a listed item", m.name), "give the sub-assembly another name")
	}
}

func (r *referrer) variants(ctx Context) {
	var names, parts []string
	for _, v := range r.d.Variants {
		names = append(names, string(v.Name.V))
	}
	parts, _, _, _, _ = r.names()
	only := func(o design.Only) {
		for _, n := range o {
			r.known(string(n.V), n.At, "variant", names)
		}
	}
	for _, v := range r.d.Variants {
		for _, b := range v.BoardList() {
			r.known(string(b.SitsIn.V), b.SitsIn.At, "part", parts)
			if id := string(b.Profile.V); ctx.Boards != nil && !design.IsFile(id) {
				if near := finding.Nearest(id, ctx.Boards); b.Profile.Set() && !contains(ctx.Boards, id) {
					hint := "`dropwright boards` lists the profiles; or name a file of the design: boards/mine.yaml"
					if near != "" {
						hint = "did you mean " + near + "? " + hint
					}
					r.add("name-unknown", b.Profile.At, fmt.Sprintf("no board profile is called %q", id), hint)
				}
			}
		}
	}
	for _, p := range r.d.Parts {
		only(p.Only)
		byVariant(r, p.Mesh, names)
		byVariant(r, p.Copies, names)
		byVariant(r, p.Mirrored, names)
	}
	for _, b := range r.d.Bought {
		only(b.Only)
		byVariant(r, b.Count, names)
	}
	for _, f := range r.d.Fasteners {
		only(f.Only)
		byVariant(r, f.Screw, names)
		byVariant(r, f.Standoff, names)
		byVariant(r, f.Count, names)
	}
	for _, s := range r.d.Assembly {
		only(s.Only)
		for _, u := range s.Uses.Entries {
			byVariant(r, u.Value, names)
		}
	}
	for _, w := range r.d.Wiring.Rows {
		only(w.Only)
	}
	for _, p := range r.d.Photos {
		only(p.Only)
	}
	for _, e := range r.d.Extras {
		only(e.Only)
	}
	for _, s := range r.d.Supplies {
		only(s.Only)
	}
}

func byVariant[T any](r *referrer, b design.ByVariant[T], names []string) {
	for _, e := range b.Each {
		r.known(string(e.Variant.V), e.Variant.At, "variant", names)
	}
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

func (r *referrer) colours(ctx Context) {
	roles := r.d.Colours.Keys()
	for _, e := range r.d.Colours.Entries {
		if design.Kebab(e.Key) != e.Key {
			r.add("value-wrong", e.KeyAt, fmt.Sprintf("expected a colour role of lower-case letters, digits and hyphens, found %q", e.Key), "write "+design.Kebab(e.Key))
		}
		if ctx.Filaments == nil {
			continue
		}
		for _, f := range e.Value.Items {
			r.known(string(f.V), f.At, "filament of the series", ctx.Filaments)
		}
	}
	for _, p := range r.d.Parts {
		r.known(string(p.Colour.V), p.Colour.At, "colour role", roles)
	}
}

func (r *referrer) parts() {
	parts, _, _, _, _ := r.names()
	for _, p := range r.d.Photos {
		for _, s := range p.Shows {
			r.known(string(s.V), s.At, "part", parts)
		}
	}
	for _, p := range r.d.Parts {
		if p.Role.V != "reference" && p.Copies.Set() {
			for _, v := range p.Copies.Values() {
				if m := p.Mirrored; v.V == 0 && !m.Set() && p.Copies.All != nil {
					r.add("value-wrong", v.At, "copies: a part with no copy is never printed", "write 1 or more, or remove the part")
				}
			}
		}
	}
}

func (r *referrer) fasteners() {
	parts, bought, fasteners, boards, _ := r.names()
	through := append(append(append([]string{design.Washer}, parts...), bought...), boards...)
	var standoffs []string
	for _, f := range r.d.Fasteners {
		if f.Standoff.Set() {
			standoffs = append(standoffs, string(f.Name.V))
		}
	}
	into := append(append(append([]string{}, parts...), bought...), standoffs...)
	for _, f := range r.d.Fasteners {
		switch {
		case f.Screw.Set() && f.Standoff.Set():
			r.add("value-wrong", f.Standoff.At, "a fastener is a screw or a standoff, not both", "list the standoff as an entry of its own; the screw may go `into` it")
		case !f.Screw.Set() && !f.Standoff.Set():
			r.add("value-missing", f.At, "this fastener has neither screw nor standoff", "add screw: M3x8 (thread x length)")
		}
		for _, t := range f.Through {
			if contains(fasteners, string(t.V)) {
				r.add("name-unknown", t.At, fmt.Sprintf("%q is a fastener; a fastener passes through parts, bought parts, the board or a washer", t.V), "to screw into a standoff write into: "+string(t.V))
				continue
			}
			r.known(string(t.V), t.At, "part, bought part or board", through)
		}
		if f.Into.Held != nil {
			if h := f.Into.Held; h.Insert == nil && !h.Nut.Set() {
				r.add("value-missing", f.Into.At, "into: neither insert nor nut", "write into: {insert: {thread: M3, outer: 4.6, length: 5.7}, in: case} or into: {nut: ISO 4032, in: case}")
			} else if h.Insert != nil && h.Nut.Set() {
				r.add("value-wrong", h.Nut.At, "into: an insert or a nut, not both", "keep one of the two")
			} else if h.Insert != nil && !h.In.Set() {
				r.add("value-missing", f.Into.At, "into: the part that holds the insert is missing", "add in: followed by the part's name")
			}
			r.known(string(f.Into.Held.In.V), f.Into.Held.In.At, "part", parts)
			continue
		}
		r.known(string(f.Into.Target.V), f.Into.Target.At, "part, bought part or standoff", into)
	}
}

func (r *referrer) wiring() {
	_, bought, _, boards, _ := r.names()
	ends := append(append([]string{}, bought...), boards...)
	for _, w := range r.d.Wiring.Rows {
		for _, e := range []design.Val[design.Text]{w.From, w.To} {
			if !e.Set() {
				continue
			}
			base, pin, dotted := strings.Cut(string(e.V), ".")
			if !dotted || pin == "" {
				r.add("value-wrong", e.At, fmt.Sprintf("expected a lead or pin such as servo.red or board.5V, found %q", e.V), "write the thing's name, a dot, and its lead, rail or pin")
				continue
			}
			before := len(r.found)
			r.known(base, e.At, "bought part or board", ends)
			if b, ok := r.d.BoughtPart(base); ok && len(r.found) == before && len(b.Leads.Entries) > 0 {
				r.known(pin, e.At, "lead of "+base, b.Leads.Keys())
			}
		}
	}
	if len(r.d.Wiring.Rows) > 0 && !r.d.Wiring.SeenFrom.Set() {
		r.add("value-missing", r.d.Wiring.At, `"seen_from" is missing: left and right of a board swap with the side it is seen from`, "add seen_from: component side")
	}
}

func (r *referrer) steps() {
	parts, bought, fasteners, boards, made := r.names()
	all := append(append(append(append([]string{}, parts...), bought...), fasteners...), boards...)
	all = append(all, made...)
	for _, p := range r.d.Parts {
		if p.Mirrored.Set() {
			all = append(all, string(p.Name.V)+".mirrored")
		}
	}
	for _, f := range r.d.Fasteners {
		for _, x := range f.Extras() {
			all = append(all, string(f.Name.V)+"."+x.Suffix)
		}
	}
	var titles []string
	for _, s := range r.d.Assembly {
		titles = append(titles, string(s.Title.V))
	}
	for _, s := range r.d.Assembly {
		for _, u := range s.Uses.Entries {
			r.known(u.Key, u.KeyAt, "part, bought part, fastener, board or sub-assembly", all)
		}
		for _, a := range s.After {
			r.known(string(a.V), a.At, "step", titles)
		}
		if s.Times.Set() && s.Times.V == 0 {
			r.add("value-wrong", s.Times.At, "times: a step that is done 0 times", "write 1 or more, or remove the step")
		}
	}
}

// forms checks the few values whose form the decoder cannot see alone.
func (r *referrer) forms() {
	for _, p := range r.d.Parts {
		if p.Size != nil && len(p.Size) != 3 {
			r.add("value-wrong", p.Size[0].At, fmt.Sprintf("size: expected three lengths [x, y, z], found %d", len(p.Size)), "write size: [80, 20, 6]")
		}
		for _, l := range p.Place {
			if l.At != nil && len(l.At) != 3 {
				r.add("value-wrong", l.At[0].At, fmt.Sprintf("at: expected three lengths [x, y, z], found %d", len(l.At)), "write at: [0, 0, 30]")
			}
			if l.Turn != nil && len(l.Turn) != 3 {
				r.add("value-wrong", l.Turn[0].At, fmt.Sprintf("turn: expected three angles [x, y, z], found %d", len(l.Turn)), "write turn: [0, 0, 90]")
			}
		}
		r.print(p.Print)
	}
	for _, v := range r.d.Variants {
		for _, b := range v.BoardList() {
			if b.Seat.At != nil && len(b.Seat.At) != 3 {
				r.add("value-wrong", b.Seat.At[0].At, fmt.Sprintf("at: expected three lengths [x, y, z], found %d", len(b.Seat.At)), "write at: [10, 8, 7]")
			}
		}
	}
	for _, b := range r.d.Bought {
		if n := len(b.Volts.Bounds); b.Volts.At.Known() && n > 0 {
			if n > 2 {
				r.add("value-wrong", b.Volts.At, fmt.Sprintf("volts: expected one value or [lowest, highest], found %d", n), "write volts: [4.8, 6.0]")
			} else if b.Volts.Low() > b.Volts.High() {
				r.add("value-wrong", b.Volts.At, fmt.Sprintf("volts: the lowest, %s, is above the highest, %s", b.Volts.Low(), b.Volts.High()), "swap the two")
			}
		}
		if b.Pack.Set() && b.Pack.V == 0 {
			r.add("value-wrong", b.Pack.At, "pack: a pack of 0", "write how many come in one pack")
		}
	}
	for _, f := range r.d.Fasteners {
		if f.Pack.Set() && f.Pack.V == 0 {
			r.add("value-wrong", f.Pack.At, "pack: a pack of 0", "write how many come in one pack")
		}
	}
}

func (r *referrer) print(p design.Print) { r.found = append(r.found, CheckPrint(p)...) }

// CheckPrint judges the ranges of print settings. The bounds are generous: they catch a slip of the unit or
// the decimal point, not taste (common practice, no source: layers 0.04 to 1.2 mm, lines 0.1 to 2.5 mm).
func CheckPrint(p design.Print) []finding.Finding {
	var out []finding.Finding
	add := func(at finding.Place, what string, v fmt.Stringer, lo, hi string) {
		out = append(out, finding.New("value-wrong", at, fmt.Sprintf("%s: expected %s to %s, found %s", what, lo, hi, v), "check the unit and the decimal point"))
	}
	if v := p.Layer; v.Set() && (v.V < 0.04 || v.V > 1.2) {
		add(v.At, "layer", v.V, "0.04 mm", "1.2 mm")
	}
	if v := p.FirstLayer; v.Set() && (v.V < 0.04 || v.V > 1.2) {
		add(v.At, "first_layer", v.V, "0.04 mm", "1.2 mm")
	}
	if v := p.Line; v.Set() && (v.V < 0.1 || v.V > 2.5) {
		add(v.At, "line", v.V, "0.1 mm", "2.5 mm")
	}
	if v := p.HoleAllowance; v.Set() && (v.V < -0.5 || v.V > 1) {
		add(v.At, "hole_allowance", v.V, "-0.5 mm", "1 mm")
	}
	if v := p.Brim; v.Set() && (v.V < 0 || v.V > 50) {
		add(v.At, "brim", v.V, "0 mm", "50 mm")
	}
	if v := p.LimitAngle; v.Set() && (v.V < 0 || v.V > 90) {
		add(v.At, "limit_angle", v.V, "0°", "90°")
	}
	return out
}
