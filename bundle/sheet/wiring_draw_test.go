package sheet

import (
	"slices"
	"testing"
)

// TestOneBoxForEachThing: a thing that wires come from and go to was drawn twice, as if there were two of it.
func TestOneBoxForEachThing(t *testing.T) {
	everyVariant(t, func(t *testing.T, name, variant string) {
		in, _ := demo(t, name, variant, "en")
		c := newComposer(in)
		wires := c.wires()
		if len(wires) == 0 {
			return
		}
		var want, got []string
		for _, w := range wires {
			want = append(want, w.from.thing, w.to.thing)
		}
		slices.Sort(want)
		want = slices.Compact(want)
		for _, s := range c.drawWiring(wires).Shapes {
			if s.Text != "" && s.Bold {
				got = append(got, s.Text)
			}
		}
		slices.Sort(got)
		if !slices.Equal(got, want) {
			t.Errorf("boxes %q, want %q", got, want)
		}
	})
}

// joined makes boxes 0 … n-1 with a wire for each pair.
func joined(n int, pairs ...[2]int) ([]*box, [][2]wireEnd) {
	boxes := make([]*box, n)
	for i := range boxes {
		boxes[i] = &box{thing: string(rune('a' + i))}
	}
	var ends [][2]wireEnd
	for _, p := range pairs {
		var e [2]wireEnd
		for k, i := range p {
			b := boxes[i]
			b.terminals = append(b.terminals, terminal{wires: 1})
			e[k] = wireEnd{b, len(b.terminals) - 1, 0}
		}
		ends = append(ends, e)
	}
	return boxes, ends
}

// TestSides: chains and stars need no loop, a triangle one; nothing on the right is joined to its like.
func TestSides(t *testing.T) {
	star := func(n int) (out [][2]int) {
		for i := 1; i < n; i++ {
			out = append(out, [2]int{i, 0})
		}
		return out
	}
	for _, c := range []struct {
		name  string
		n     int
		pairs [][2]int
		loops int
	}{
		{"pair", 2, [][2]int{{0, 1}}, 0},
		{"chain", 4, [][2]int{{0, 1}, {1, 2}, {2, 3}}, 0},
		{"triangle", 3, [][2]int{{0, 1}, {1, 2}, {0, 2}}, 1},
		{"to itself", 2, [][2]int{{0, 0}, {0, 1}}, 1},
		{"star", 9, star(9), 0},
		{"large star", 40, star(40), 0},
	} {
		boxes, ends := joined(c.n, c.pairs...)
		left, right := sides(boxes, ends)
		if len(left)+len(right) != c.n {
			t.Errorf("%s: %d and %d boxes of %d", c.name, len(left), len(right), c.n)
		}
		loops := 0
		for _, e := range ends {
			a, b := e[0].box, e[1].box
			if a.right && b.right {
				t.Errorf("%s: %s and %s are joined on the right", c.name, a.thing, b.thing)
			}
			if !a.right && !b.right {
				loops++
			}
		}
		if loops != c.loops {
			t.Errorf("%s: %d loops, want %d", c.name, loops, c.loops)
		}
	}
}

// TestWiringNamesThePinItComesFrom: a wire from one board to another names its pin by signal and place, at both ends;
// it was a bare "5V" and "terminals.6".
func TestWiringNamesThePinItComesFrom(t *testing.T) {
	in, _ := demo(t, "mist-valve", "stack", "en")
	var table *Table
	for _, x := range Compose(in).Sections {
		for _, b := range x.Blocks {
			if x.ID == "wiring" && b.Kind == Grid && table == nil {
				table = b.Table
			}
		}
	}
	if table == nil {
		t.Fatal("no wiring table")
	}
	seen := 0
	for _, r := range table.Rows {
		if r.Cells[0].Spans[0].Text != "relay" {
			continue
		}
		seen++
		lead := r.Cells[1]
		if got := lead.Spans[0].Text + ", " + lead.Note; got != "5V, pin 5 of header terminals" && got != "GND, pin 6 of header terminals" {
			t.Errorf("a lead of the relay board is called %q", got)
		}
	}
	if seen != 2 {
		t.Errorf("%d rows come from the relay board, want 2", seen)
	}
}
