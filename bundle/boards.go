package bundle

import (
	"io/fs"

	"dropwright/bundle/board"
	"dropwright/bundle/design"
	"dropwright/bundle/sheet"
)

// profile loads a board profile: a built-in one, or a file of the design.
func (k *Work) profile(name string) (*board.Profile, bool) {
	if !design.IsFile(name) {
		p, err := board.Load(name)
		return p, err == nil
	}
	data, err := fs.ReadFile(k.FS, name)
	if err != nil {
		return nil, false
	}
	p, _ := board.Parse(name, data)
	return p, p != nil
}

// boardFor gives the sheet what it draws of a board: its outline and the places of its pins.
func (k *Work) boardFor(name string) (sheet.Board, bool) {
	p, ok := k.profile(name)
	if !ok {
		return sheet.Board{}, false
	}
	b := sheet.Board{Title: p.Title.S, Length: p.Outline.Length.MM, Width: p.Outline.Width.MM}
	b.Pins = func(where string) []sheet.Pin {
		t, err := p.Resolve(where)
		if err != nil {
			return nil
		}
		var out []sheet.Pin
		for _, x := range t.Pins {
			pin := sheet.Pin{Header: x.Header.ID.S, Number: x.Name, Signal: x.Signal}
			pin.X, pin.Y, pin.Placed = x.Header.PinAt(x.Name)
			out = append(out, pin)
		}
		return out
	}
	return b, true
}
