package sheet

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Measures of the drawing of a board, mm.
const (
	boardRoom = 110.0 // widest outline
	boardTall = 80.0  // tallest outline
	labelStep = 5.5
)

// drawBoards shows, for each board whose outline and pins are known, where the wires go: the outline seen as the
// wiring says, the pins in use as dots, each with a line to its name.
func (c *composer) drawBoards(wires []wire) []Block {
	var out []Block
	for _, b := range c.boards {
		if c.Board == nil {
			break
		}
		view, ok := c.Board(string(b.Profile.V))
		if !ok || view.Length <= 0 || view.Width <= 0 {
			continue
		}
		type use struct {
			pin   Pin
			words []string
		}
		var uses []use
		for _, w := range wires {
			for _, e := range [][2]ending{{w.from, w.to}, {w.to, w.from}} {
				if e[0].thing != string(b.Name.V) || !e[0].known || !e[0].pin.Placed {
					continue
				}
				far := e[1].thing + " " + e[1].lead
				i := slices.IndexFunc(uses, func(u use) bool { return u.pin.Header == e[0].pin.Header && u.pin.Number == e[0].pin.Number })
				if i < 0 {
					uses = append(uses, use{pin: e[0].pin})
					i = len(uses) - 1
				}
				uses[i].words = append(uses[i].words, far)
			}
		}
		if len(uses) == 0 {
			continue
		}
		solder := c.Design.Wiring.SeenFrom.V == "solder side"
		k := math.Min(1, math.Min(boardRoom/view.Length, boardTall/view.Width))
		at := func(p Pin) (x, y float64) {
			x = p.X
			if solder { // turned about its upright axis
				x = view.Length - x
			}
			return 2 + x*k, 8 + (view.Width-p.Y)*k
		}
		// Labels run down in the order of their pins, so that no two lines cross more than they must.
		slices.SortStableFunc(uses, func(a, b use) int {
			ax, ay := at(a.pin)
			bx, by := at(b.pin)
			return cmp.Or(cmp.Compare(math.Round(ay*10), math.Round(by*10)), cmp.Compare(bx, ax))
		})
		d := &Drawing{ID: "board-" + string(b.Name.V), Width: wiringWidth}
		side := c.say("view." + c.sideOf())
		d.Title = c.say("board drawing", string(b.Name.V), side)
		d.text(textSize, 2, 4.5, "start", string(b.Name.V)+": "+side)
		d.Shapes[len(d.Shapes)-1].Bold = true
		d.rect(Wide, 2, 8, view.Length*k, view.Width*k)
		column := 2 + view.Length*k + 14
		for i, u := range uses {
			x, y := at(u.pin)
			ly := 11 + float64(i)*labelStep
			d.Shapes = append(d.Shapes, Shape{Points: []Point{{round(x), round(y)}}, Radius: 0.8, Stroke: Narrow, Fill: "ink"})
			d.line(Narrow, x, y, column-6, ly-1, column-1, ly-1)
			signal := u.pin.Signal
			if signal != "" {
				signal += ", "
			}
			label := fmt.Sprintf("%s%s: %s", signal, join(" ", u.pin.Header, u.pin.Number), c.list(u.words))
			d.text(noteSize, column, ly, "start", shorten(label, wiringWidth-column, noteSize))
			d.Title += " " + label + "."
		}
		d.Height = round(math.Max(8+view.Width*k, 11+float64(len(uses))*labelStep) + 2)
		out = append(out, Block{Kind: Plan, Drawing: d})
		if k < 1 {
			out = append(out, text(Small, c.say("board scale", c.short(math.Round(k*100)))))
		}
	}
	return out
}

// sideOf is the side from which boards are seen.
func (c *composer) sideOf() string {
	if c.Design.Wiring.SeenFrom.Set() {
		return string(c.Design.Wiring.SeenFrom.V)
	}
	return "component side"
}
