package fit

import (
	"cmp"
	"errors"
	"path"
	"slices"
	"strings"

	"dropwright/bundle/board"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
)

// Profiles is the board profiles that a design names, each read once. It is not for use by several goroutines
// while profiles are still being read.
type Profiles struct {
	folder string // shown before the names of files
	read   func(name string) ([]byte, error)
	byID   map[string]*board.Profile
	list   []facts.BoardProfile
}

// NewProfiles reads profiles for a design. manifest is the path of its manifest as findings show it; read
// reads a file of its folder.
func NewProfiles(manifest string, read func(name string) ([]byte, error)) *Profiles {
	return &Profiles{folder: path.Dir(manifest), read: read, byID: map[string]*board.Profile{}}
}

// Profile returns a profile, built in or a file of the design; nil when it cannot be read as meant: Facts then
// says why.
func (p *Profiles) Profile(id string) *board.Profile {
	if b, ok := p.byID[id]; ok || id == "" {
		return b
	}
	f := facts.BoardProfile{ID: id}
	var b *board.Profile
	if !design.IsFile(id) {
		var err error
		if b, err = board.Load(id); err != nil {
			f.Error = err.Error()
		}
	} else if data, err := p.read(id); err != nil {
		f.Error = err.Error()
	} else {
		q, found := board.Parse(path.Join(p.folder, id), data)
		f.Faults = found
		if q != nil && finding.Count(found, finding.Error) == 0 {
			b = q
		} else {
			f.Error = "it cannot be read as meant"
		}
	}
	p.byID[id] = b
	p.list = append(p.list, f)
	return b
}

// Facts lists what was read so far, sorted by id.
func (p *Profiles) Facts() []facts.BoardProfile {
	slices.SortFunc(p.list, func(a, b facts.BoardProfile) int { return cmp.Compare(a.ID, b.ID) })
	return p.list
}

// Wires looks up both ends of every row of a design's wiring, in each variant that the row is for.
func (p *Profiles) Wires(d *design.Design) []facts.Wire {
	var out []facts.Wire
	for _, name := range d.VariantNames() {
		v, _ := d.Variant(name)
		for i, r := range d.Wiring.Rows {
			if r.Only.Has(name) {
				out = append(out, facts.Wire{Variant: name, Row: i, From: p.end(d, name, v, string(r.From.V)), To: p.end(d, name, v, string(r.To.V))})
			}
		}
	}
	return out
}

// end looks up one end of a wire: "servo.red", "board.5V", "board.low-speed.37".
func (p *Profiles) end(d *design.Design, variant string, v design.Variant, text string) facts.End {
	out := facts.End{Text: text}
	thing, rest, _ := strings.Cut(text, ".")
	out.Thing = thing
	for _, b := range v.BoardList() {
		if string(b.Name.V) == thing {
			p.boardEnd(&out, string(b.Profile.V), rest)
			return out
		}
	}
	out.Kind, out.Lead = facts.EndLead, rest
	b, ok := d.BoughtPart(thing)
	if !ok || !b.Only.Has(variant) {
		out.Error, out.Hint = "this variant has no "+thing, "add `only:` to the row, or the thing to the variant"
		return out
	}
	if role, ok := b.Leads.Get(rest); ok {
		out.Role = string(role.V)
	}
	return out
}

func (p *Profiles) boardEnd(out *facts.End, id, rest string) {
	b := p.Profile(id)
	out.Kind = facts.EndRail
	if strings.Contains(rest, ".") {
		out.Kind, out.Pin = facts.EndPin, rest
	}
	if b == nil {
		return // that the profile cannot be read is said once
	}
	t, err := b.Resolve(rest)
	if err != nil {
		out.Error = err.Error()
		if u := (*board.UnknownPin)(nil); errors.As(err, &u) {
			out.Hint = u.Hint
		}
		return
	}
	for _, pin := range t.Pins {
		out.Pins = append(out.Pins, pin.String())
	}
	if pin, ok := t.Exact(); ok && (out.Kind == facts.EndPin || t.Rail == nil) {
		out.Kind, out.Pin, out.Signal = facts.EndPin, pin.String(), pin.Signal
		if pin.Rail == nil && pin.Signal != "" && pin.Header.SignalVolts.Given {
			volts := pin.Header.SignalVolts.V
			out.Level = &volts
		}
	}
	if t.Rail != nil {
		out.Rail = railFact(b, t.Rail)
	}
}

func railFact(p *board.Profile, r *board.Rail) *facts.Rail {
	f := &facts.Rail{ID: r.ID.S, Role: r.Role.S, AC: r.AC.On, Hazard: r.Hazard.S}
	for _, x := range []struct {
		from board.Number
		to   **float64
	}{{r.Volts, &f.Volts}, {r.VoltsMin, &f.VoltsMin}, {r.VoltsMax, &f.VoltsMax}, {r.Amps, &f.Amps}, {r.Watts, &f.Watts}} {
		if x.from.Given {
			v := x.from.V
			*x.to = &v
		}
	}
	basis := r.Basis.Of("amps")
	if basis == "" {
		basis = p.BasisOf("rails.amps")
	}
	if board.WeakBasis(basis) || basis == "derived" {
		f.Basis = board.BasisWords(basis)
	}
	return f
}
