package board

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"dropwright/bundle/finding"
)

// Pin is one pin of a header.
type Pin struct {
	Header *Header `json:"-"`
	Name   string  `json:"name"`   // "37", "B9"
	Signal string  `json:"signal"` // rail or signal on it; "" when the profile does not say
	Rail   *Rail   `json:"-"`      // the rail it belongs to; nil for signals and unknown pins
}

// String is the pin as wiring writes it: "low-speed.37".
func (p Pin) String() string { return p.Header.ID.S + "." + p.Name }

// Target is what a wire may go to: one pin, or a rail with all its pins.
type Target struct {
	Rail *Rail // nil for a signal pin or one of which nothing is known
	Pins []Pin // one for an exact pin; all pins of the rail; none for a rail that comes out at no header
}

// Exact returns the pin when the target is a single pin that was named as such or is the only one.
func (t Target) Exact() (Pin, bool) {
	if len(t.Pins) == 1 {
		return t.Pins[0], true
	}
	return Pin{}, false
}

// UnknownPin is the error of Resolve: what is wrong and what to write instead.
type UnknownPin struct{ Text, Hint string }

// Error is the text.
func (u *UnknownPin) Error() string { return u.Text }

// Pins lists the pins of all headers that the profile names, in the order of the file.
func (p *Profile) Pins() []Pin {
	var list []Pin
	for i := range p.Headers {
		h := &p.Headers[i]
		for _, e := range h.Pins {
			list = append(list, p.pin(h, e.Key, e.Value.S))
		}
	}
	return list
}

func (p *Profile) pin(h *Header, name, signal string) Pin {
	return Pin{Header: h, Name: name, Signal: signal, Rail: p.RailOf(signal)}
}

// RailOf returns the rail with the given id, nil when there is none.
func (p *Profile) RailOf(id string) *Rail {
	for i := range p.Rails {
		if p.Rails[i].ID.S == id && id != "" {
			return &p.Rails[i]
		}
	}
	return nil
}

// HeaderOf returns the header with the given id, nil when there is none.
func (p *Profile) HeaderOf(id string) *Header {
	for i := range p.Headers {
		if p.Headers[i].ID.S == id {
			return &p.Headers[i]
		}
	}
	return nil
}

// Resolve reads what wiring writes behind "board.": a rail ("5V", "GND"), a signal ("UART0_TxD"), or a
// pin of a header ("low-speed.37", "J1.B9"). A pin that the header can have but of which the profile
// says nothing resolves with an empty Signal and no rail: what is on it is not known. The error is an
// *UnknownPin.
func (p *Profile) Resolve(path string) (Target, error) {
	if header, pin, ok := strings.Cut(path, "."); ok {
		return p.resolvePin(header, pin)
	}
	var t Target
	t.Rail = p.RailOf(path)
	for _, pin := range p.Pins() {
		if pin.Signal == path {
			t.Pins = append(t.Pins, pin)
		}
	}
	if path != "" && (t.Rail != nil || len(t.Pins) > 0) {
		return t, nil
	}
	var known []string
	for _, r := range p.Rails {
		known = append(known, r.ID.S)
	}
	for _, pin := range p.Pins() {
		if !slices.Contains(known, pin.Signal) {
			known = append(known, pin.Signal)
		}
	}
	u := &UnknownPin{Text: fmt.Sprintf("%s has no rail or signal %q", p.ID.S, path)}
	switch near := finding.Nearest(path, known); {
	case p.HeaderOf(path) != nil:
		u.Text, u.Hint = fmt.Sprintf("%q is a header, not a pin", path), "add the pin: "+path+".1"
	case near != "":
		u.Hint = "did you mean " + near + "?"
	case len(known) == 0:
		u.Hint = "the profile names no rails; name a pin, such as header.1"
	default:
		u.Hint = "rails: " + strings.Join(known[:len(p.Rails)], ", ") + "; or name a pin, such as header.1"
	}
	return Target{}, u
}

func (p *Profile) resolvePin(header, pin string) (Target, error) {
	h := p.HeaderOf(header)
	if h == nil {
		var ids []string
		for _, x := range p.Headers {
			ids = append(ids, x.ID.S)
		}
		u := &UnknownPin{Text: fmt.Sprintf("%s has no header %q", p.ID.S, header), Hint: "headers: " + strings.Join(ids, ", ")}
		if near := finding.Nearest(header, ids); near != "" {
			u.Hint = "did you mean " + near + "?"
		}
		if len(ids) == 0 {
			u.Hint = "the profile names no headers"
		}
		return Target{}, u
	}
	for _, e := range h.Pins {
		if strings.EqualFold(e.Key, pin) {
			x := p.pin(h, e.Key, e.Value.S)
			return Target{Rail: x.Rail, Pins: []Pin{x}}, nil
		}
	}
	if err := h.validPin(pin); err != nil || len(pin) > 8 {
		return Target{}, &UnknownPin{Text: fmt.Sprintf("%s has no pin %q", header, pin), Hint: h.pinsInWords()}
	}
	return Target{Pins: []Pin{p.pin(h, strings.ToUpper(pin), "")}}, nil
}

// pinsInWords says which pins a header has.
func (h *Header) pinsInWords() string {
	low := 1
	if !h.Pin0.IsZero() {
		low = 0
	}
	if n := h.count(); n > 0 {
		return fmt.Sprintf("header %s has %d rows of %d pins, counted from %d", h.ID.S, int(h.Rows.V), int(h.Columns.V), low)
	}
	return "the profile does not say how many pins it has"
}

// PinAt is the centre of a pin that is known by its number, in mm. Pins of several rows are numbered
// across the rows first, as on ribbon cables: 1 and 2 lie beside one another. ok is false where the
// profile does not say where the header starts, runs, or has its second row.
func (h *Header) PinAt(pin string) (x, y float64, ok bool) {
	n, err := strconv.Atoi(pin)
	if err != nil || h.validPin(pin) != nil || h.count() == 0 || !h.Pitch.Given {
		return 0, 0, false
	}
	x, y, ok = h.Pin1.Pair()
	if !ok {
		x, y, ok = h.First.Pair()
	}
	if !ok {
		return 0, 0, false
	}
	rows := int(h.Rows.V)
	column, row := (n-1)/rows, (n-1)%rows
	step := h.Pitch.MM * float64(column)
	switch h.Along.S {
	case "+x":
		x += step
	case "-x":
		x -= step
	case "+y":
		y += step
	case "-y":
		y -= step
	default:
		return 0, 0, false
	}
	if row == 0 {
		return x, y, true
	}
	if h.Along.S == "+x" || h.Along.S == "-x" {
		middle := h.CentreLineY.MM
		if !h.CentreLineY.Given {
			a, b, ok := h.Box.Y.Pair()
			if !ok {
				return 0, 0, false
			}
			middle = (a + b) / 2
		}
		_, first, _ := h.Pin1.Pair()
		if middle < first {
			return x, y - h.Pitch.MM*float64(row), true
		}
		return x, y + h.Pitch.MM*float64(row), true
	}
	if len(h.RowX.Items) > row && h.RowX.Items[row].Given {
		return h.RowX.Items[row].MM, y, true
	}
	return 0, 0, false
}
