package sheet

import (
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
)

// wire is one connection, resolved.
type wire struct {
	row      design.WiringRow
	from, to ending
	colour   string // its name: of the wire, or of the lead
}

// ending is one end of a wire.
type ending struct {
	thing  string // "servo", "board"
	title  string // what the thing is
	lead   string // "red", "GND", "low-speed.23"
	role   string // what a lead carries, in the language
	pin    Pin
	known  bool   // pin was resolved
	every  []Pin  // the pins to choose from
	hazard string // of the rail: mains, lithium
}

// wires returns the connections of the variant in the manifest's order.
func (c *composer) wires() []wire {
	var out []wire
	for i, r := range c.Design.Wiring.Rows {
		if !r.Only.Has(c.Variant) {
			continue
		}
		w := wire{row: r, from: c.ending(string(r.From.V)), to: c.ending(string(r.To.V)), colour: string(r.Colour.V)}
		if f, ok := c.factsOf(i); ok {
			w.from.learn(f.From)
			w.to.learn(f.To)
		}
		if w.colour == "" && leadColours[w.from.lead] != "" {
			w.colour = w.from.lead
		}
		out = append(out, w)
	}
	choosePins(out)
	return out
}

// factsOf returns what was looked up of a row of the wiring.
func (c *composer) factsOf(row int) (facts.Wire, bool) {
	if c.Facts.Boards == nil {
		return facts.Wire{}, false
	}
	for _, w := range c.Facts.Boards.Wires {
		if w.Variant == c.Variant && w.Row == row {
			return w, true
		}
	}
	return facts.Wire{}, false
}

// learn takes pins from the facts where the board's own figures were not handed in.
func (e *ending) learn(f facts.End) {
	if f.Rail != nil {
		e.hazard = f.Rail.Hazard
	}
	if len(e.every) > 0 {
		return
	}
	paths, signal := f.Pins, f.Signal
	if f.Pin != "" {
		paths = []string{f.Pin}
	}
	if signal == "" && f.Rail != nil {
		signal = f.Rail.ID
	}
	for _, p := range paths {
		header, number, ok := strings.Cut(p, ".")
		if ok {
			e.every = append(e.every, Pin{Header: header, Number: number, Signal: signal})
		}
	}
}

// choosePins gives each wire to a rail a pin of its own as long as there are some, since a pin holds one
// contact; pins that rows name exactly are taken first. When a rail has no more, wires share its last one.
func choosePins(wires []wire) {
	taken := map[[3]string]bool{}
	key := func(e *ending, p Pin) [3]string { return [3]string{e.thing, p.Header, p.Number} }
	var ends []*ending
	for i := range wires {
		ends = append(ends, &wires[i].from, &wires[i].to)
	}
	for _, e := range ends {
		if len(e.every) == 1 {
			e.pin, e.known = e.every[0], true
			taken[key(e, e.pin)] = true
		}
	}
	for _, e := range ends {
		if len(e.every) < 2 {
			continue
		}
		for _, p := range e.every {
			e.pin, e.known = p, true
			if !taken[key(e, p)] {
				break
			}
		}
		taken[key(e, e.pin)] = true
	}
}

// shared tells whether two wires end on one pin of a board.
func shared(wires []wire) bool {
	seen := map[[3]string]bool{}
	for _, w := range wires {
		for _, e := range []ending{w.from, w.to} {
			k := [3]string{e.thing, e.pin.Header, e.pin.Number}
			if !e.known || e.pin.Number == "" {
				continue
			}
			if seen[k] {
				return true
			}
			seen[k] = true
		}
	}
	return false
}

func (c *composer) ending(path string) ending {
	thing, lead, _ := strings.Cut(path, ".")
	e := ending{thing: thing, lead: lead, title: thing}
	if b, ok := c.Design.BoughtPart(thing); ok {
		if r, ok := b.Leads.Get(lead); ok && c.has("lead."+string(r.V)) {
			e.role = c.say("lead." + string(r.V))
		}
		return e
	}
	for _, b := range c.boards {
		if string(b.Name.V) != thing {
			continue
		}
		e.title = c.boardTitle(string(b.Profile.V))
		if c.Board == nil {
			return e
		}
		if view, ok := c.Board(string(b.Profile.V)); ok && view.Pins != nil {
			e.every = view.Pins(lead)
			if view.Title != "" {
				e.title = view.Title
			}
		}
	}
	return e
}

// lines names an end in two lines: the lead with what it carries, or the signal with the pin that was chosen.
func (e ending) lines(c *composer) (name, detail string) {
	if !e.known {
		return e.lead, e.role
	}
	pin := ""
	if e.pin.Header != "" && e.pin.Number != "" {
		pin = c.say("pin of header", e.pin.Number, e.pin.Header)
	}
	switch {
	case pin == "":
		return e.lead, ""
	case e.pin.Signal == "":
		return pin, ""
	}
	return e.pin.Signal, pin
}

// words names an end in one line, as the table prints it.
func (e ending) words(c *composer) string {
	name, detail := e.lines(c)
	return join(", ", name, detail)
}

// wiring is the table of connections and the drawing of them.
func (c *composer) wiring() []Block {
	wires := c.wires()
	if len(wires) == 0 {
		return nil
	}
	t := &Table{Caption: c.say("wiring caption"), Columns: []Column{{Title: c.say("from"), Share: 2}, {Title: c.say("lead"), Share: 2.5}, {Title: c.say("to"), Share: 2}, {Title: c.say("pin"), Share: 3}}}
	lengths, notes := false, false
	for _, w := range wires {
		lengths = lengths || w.row.Length.Set()
		notes = notes || w.row.Note.Set()
	}
	if lengths {
		t.Columns = append(t.Columns, Column{Title: c.say("length"), Right: true, Share: 1.3})
	}
	if notes {
		t.Columns = append(t.Columns, Column{Title: c.say("note"), Share: 3})
	}
	for _, w := range wires {
		lead := Cell{Spans: []Span{{Text: w.from.lead, Swatch: leadColours[w.colour]}}, Note: w.from.role}
		if w.from.known { // from one board to another: a pin by its signal and its place
			lead.Spans[0].Text, lead.Note = w.from.lines(c)
		}
		if w.colour != "" && (w.colour != w.from.lead || w.from.known) {
			lead.Note = join(", ", lead.Note, c.say("wire colour", w.colour))
		}
		r := Row{Cells: []Cell{cell(w.from.thing), lead, cell(w.to.thing), cell(w.to.words(c))}}
		if lengths {
			s := unknown
			if w.row.Length.Set() {
				s = c.mm(float64(w.row.Length.V))
			}
			r.Cells = append(r.Cells, cell(s))
		}
		if notes {
			r.Cells = append(r.Cells, cell(string(w.row.Note.V)))
		}
		t.Rows = append(t.Rows, r)
	}
	out := []Block{}
	if len(c.boards) > 0 && c.Design.Wiring.SeenFrom.Set() {
		out = append(out, text(Para, c.say("seen from", c.say("view."+string(c.Design.Wiring.SeenFrom.V)))))
	}
	// The boards come right after the table: with iron in hand one looks from row to pin. The drawing is to check by.
	out = append(out, Block{Kind: Grid, Table: t})
	out = append(out, c.drawBoards(wires)...)
	if shared(wires) {
		out = append(out, text(Para, c.say("wiring shared")))
	}
	return append(out, Block{Kind: Plan, Drawing: c.drawWiring(wires)}, text(Small, c.say("wiring note")))
}

// leadColours draws the colours that wires are sold in; the name always stands beside it. The names are those
// of IEC 60757, the shades ours.
var leadColours = map[string]string{
	"black": "#1a1a1a", "brown": "#7a4a21", "red": "#d0241b", "orange": "#f07c12", "yellow": "#f2d21b", "green": "#2e8b3d", "blue": "#1f5fc4",
	"violet": "#7d3fa8", "purple": "#7d3fa8", "grey": "#8c8c8c", "gray": "#8c8c8c", "white": "#ffffff", "pink": "#f29ab8", "turquoise": "#34b5b0",
	"schwarz": "#1a1a1a", "braun": "#7a4a21", "rot": "#d0241b", "gelb": "#f2d21b", "grün": "#2e8b3d", "blau": "#1f5fc4", "violett": "#7d3fa8",
	"grau": "#8c8c8c", "weiss": "#ffffff", "weiß": "#ffffff", "rosa": "#f29ab8", "türkis": "#34b5b0",
}

// power is what to look at before the power comes on; only for things that have wiring or a board.
func (c *composer) power() []Block {
	wires := c.wires()
	if len(wires) == 0 && len(c.boards) == 0 {
		return nil
	}
	list := Block{Kind: Checks}
	add := func(key string, args ...any) {
		list.Items = append(list.Items, []Block{text(Para, c.say(key, args...))})
	}
	if len(wires) > 0 {
		add("power.wires")
		for _, w := range wires {
			if w.from.role == c.say("lead.supply") || w.from.role == c.say("lead.plus") || w.from.role == c.say("lead.ground") || w.from.role == c.say("lead.minus") {
				list.Items = append(list.Items, []Block{text(Para, c.say("power.wire", w.from.thing+" "+w.from.words(c), w.to.thing+" "+w.to.words(c)))})
			}
		}
		add("power.short")
		add("power.strands")
		add("power.moving")
	}
	for _, b := range c.Design.Bought {
		if !b.Only.Has(c.Variant) || !b.Volts.Set() {
			continue
		}
		v := c.short(float64(b.Volts.Low()))
		if b.Volts.High() != b.Volts.Low() {
			v += " – " + c.short(float64(b.Volts.High()))
		}
		add("power.volts", string(b.Name.V), v+nbsp+"V")
	}
	if len(c.boards) > 0 {
		add("power.board")
	}
	add("power.loose")
	add("power.first")
	return []Block{list}
}
