package bed

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

var bench = Bed{Size: [3]float64{220, 220, 250}, Edge: 5, Spacing: 5, Start: 240, ChangeOver: 600}

func box(name string, x, y float64, copies int) Item {
	return Item{Name: name, Size: [3]float64{x, y, 10}, Copies: copies, Seconds: 60, Grams: 2}
}

func pack(t interface{ Fatalf(string, ...any) }, items []Item, b Bed) Layout {
	l, err := Pack(items, b)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return l
}

// outline of an item turned and placed, grown by its brim: for tests only, rectangles.
func span(it Item, p Placed) (lo, hi [2]float64) {
	for i := range 2 {
		lo[i] = p.Centre[i] - p.Size[i]/2 - it.Brim
		hi[i] = p.Centre[i] + p.Size[i]/2 + it.Brim
	}
	return lo, hi
}

// sound checks what every layout must keep: all copies once, inside the edge, apart by the spacing.
func sound(t interface{ Fatalf(string, ...any) }, items []Item, b Bed, l Layout) {
	seen := map[[2]int]bool{}
	for n, load := range l.Loads {
		if len(load.Placed) == 0 {
			t.Fatalf("load %d is empty", n)
		}
		used, seconds := 0.0, b.Start+b.ChangeOver
		for i, p := range load.Placed {
			k := [2]int{p.Item, p.Copy}
			if seen[k] || p.Copy < 1 || p.Copy > items[p.Item].Copies {
				t.Fatalf("copy %v twice or unknown", k)
			}
			seen[k] = true
			seconds += items[p.Item].Seconds
			lo, hi := span(items[p.Item], p)
			for a := range 2 {
				if lo[a] < b.Edge-1e-4 || hi[a] > b.Size[a]-b.Edge+1e-4 {
					t.Fatalf("load %d: %+v lies outside the bed", n, p)
				}
			}
			for _, q := range load.Placed[i+1:] {
				lo2, hi2 := span(items[q.Item], q)
				gap := math.Inf(-1)
				for a := range 2 {
					gap = math.Max(gap, math.Max(lo2[a]-hi[a], lo[a]-hi2[a]))
				}
				if gap < b.Spacing-1e-4 {
					t.Fatalf("load %d: %+v and %+v are %g apart", n, p, q, gap)
				}
			}
			used += p.Size[0] * p.Size[1]
		}
		if load.Used > used+1e-6 || load.Share < 0 || load.Share > 1 || math.Abs(load.Seconds-seconds) > 1e-6 {
			t.Fatalf("load %d: %+v", n, load)
		}
	}
	want := 0
	for i, it := range items {
		no := false
		for _, u := range l.Unplaced {
			no = no || u.Item == i
		}
		if !no {
			want += it.Copies
		}
	}
	if len(seen) != want {
		t.Fatalf("%d copies placed of %d", len(seen), want)
	}
}

// Counted by hand.
func TestPackByHand(t *testing.T) {
	exact := bench
	exact.Size = [3]float64{225, 225, 250} // 4 * 50 + 3 * 5 + 2 * 5
	for _, c := range []struct {
		name  string
		bed   Bed
		items []Item
		loads int
	}{
		{"nothing", bench, nil, 0},
		{"no copies", bench, []Item{box("a", 10, 10, 0)}, 0},
		{"sixteen squares fill the bed to the last tenth", exact, []Item{box("a", 50, 50, 16)}, 1},
		{"the seventeenth does not fit", exact, []Item{box("a", 50, 50, 17)}, 2},
		{"as large as the bed", bench, []Item{box("a", 210, 210, 3)}, 3},
		{"two halves", bench, []Item{box("a", 210, 102.5, 2)}, 1},
		{"two halves, one given the other way round", bench, []Item{box("a", 210, 102.5, 1), box("b", 102.5, 210, 1)}, 1},
		{"strips turned into the room beside a plate", bench, []Item{box("a", 160, 210, 1), box("b", 210, 20, 2)}, 1},
		{"small ones beside large ones", bench, []Item{box("a", 150, 210, 2), box("b", 50, 50, 6)}, 2},
	} {
		l := pack(t, c.items, c.bed)
		sound(t, c.items, c.bed, l)
		if len(l.Loads) != c.loads || len(l.Unplaced) != 0 {
			t.Errorf("%s: %d loads, %d unplaced, want %d loads", c.name, len(l.Loads), len(l.Unplaced), c.loads)
		}
	}
	l := pack(t, []Item{box("a", 50, 50, 16)}, exact)
	if want := 16 * 2500.0 / (225 * 225); math.Abs(l.Loads[0].Share-want) > 1e-9 || l.Loads[0].Seconds != 240+600+16*60 || l.Loads[0].Grams != 32 {
		t.Errorf("got %+v", l.Loads[0])
	}
}

// A strip longer than the bed is wide fits across its corners: 260 x 10 at 45 degrees takes 190.9 each way.
func TestDiagonal(t *testing.T) {
	l := pack(t, []Item{box("strip", 260, 10, 1)}, bench)
	if len(l.Loads) != 1 || math.Abs(l.Loads[0].Placed[0].Turn-45) > 44 {
		t.Fatalf("got %+v", l)
	}
	sound(t, []Item{box("strip", 260, 10, 1)}, bench, l)
	if used := l.Loads[0].Used; math.Abs(used-2600) > 1e-6 {
		t.Errorf("used %g, the strip covers 2600", used)
	}
	l = pack(t, []Item{box("strip", 300, 10, 1), box("tower", 10, 10, 1), {Name: "mast", Size: [3]float64{10, 10, 300}, Copies: 1}}, bench)
	if len(l.Loads) != 1 || len(l.Unplaced) != 2 || !strings.Contains(l.Unplaced[0].Why, "at best (turned by") || !strings.Contains(l.Unplaced[1].Why, "300.0 mm high") {
		t.Errorf("got %+v", l.Unplaced)
	}
}

// A part drawn at a slant is turned straight: four 100 x 100 squares standing on a corner fit one bed.
func TestNarrowestTurn(t *testing.T) {
	h := 100 / math.Sqrt2
	slanted := Item{Name: "slanted", Size: [3]float64{2 * h, 2 * h, 5}, Copies: 4,
		Outline: [][2]float64{{h, 0}, {2 * h, h}, {h, 2 * h}, {0, h}}}
	l := pack(t, []Item{slanted}, bench)
	sound(t, []Item{slanted}, bench, l)
	if len(l.Loads) != 1 || math.Abs(l.Loads[0].Used-40_000) > 1e-6 {
		t.Fatalf("got %+v", l)
	}
	if p := l.Loads[0].Placed[0]; math.Abs(p.Size[0]-100) > 1e-9 || math.Abs(math.Mod(p.Turn, 90)-45) > 1e-9 {
		t.Errorf("got %+v", p)
	}
	slanted.Outline = nil
	if l := pack(t, []Item{slanted}, bench); len(l.Loads) != 4 {
		t.Errorf("as a rectangle it takes a bed each: %d", len(l.Loads))
	}
}

func TestPackIsSoundAndRepeats(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		b := bench
		b.Spacing = rapid.Float64Range(0, 10).Draw(r, "spacing")
		var items []Item
		for i := range rapid.IntRange(1, 6).Draw(r, "items") {
			it := box(fmt.Sprint(i), rapid.Float64Range(1, 230).Draw(r, "x"), rapid.Float64Range(1, 230).Draw(r, "y"), rapid.IntRange(0, 8).Draw(r, "copies"))
			it.Brim = rapid.SampledFrom([]float64{0, 3}).Draw(r, "brim")
			items = append(items, it)
		}
		l := pack(r, items, b)
		sound(r, items, b, l)
		if again := pack(r, items, b); fmt.Sprint(again) != fmt.Sprint(l) {
			r.Fatalf("another layout the second time")
		}
		c, err := Count(items, b)
		if err != nil || len(c.Unplaced) != len(l.Unplaced) || (c.Loads == 0) != (len(l.Loads) == 0) {
			r.Fatalf("counted %+v, %v; laid out %d", c, err, len(l.Loads))
		}
		// Never fewer loads than the area alone asks for with nothing left over.
		if least := math.Ceil(c.Area*(1-1e-9)/(b.room()[0]*b.room()[1]) - 1e-6); float64(len(l.Loads)) < least {
			r.Fatalf("%d loads for %g of area", len(l.Loads), c.Area)
		}
	})
}

func TestCount(t *testing.T) {
	// By hand: 10 x (55 x 55) = 30250 of 215 x 215 x 0.7 = 32357: one load; 11 take two.
	for n, want := range map[int]int{10: 1, 11: 2} {
		c, err := Count([]Item{box("a", 50, 50, n)}, bench)
		if err != nil || c.Loads != want || c.Allowance != 0.7 || math.Abs(c.Seconds-(840+60*float64(n)/float64(want))) > 1e-9 {
			t.Errorf("%d: %+v, %v", n, c, err)
		}
	}
}

func TestBadFigures(t *testing.T) {
	for want, change := range map[string]func(*Bed, *Item){
		"bed width":   func(b *Bed, _ *Item) { b.Size[0] = 0 },
		"bed height":  func(b *Bed, _ *Item) { b.Size[2] = math.NaN() },
		"edge":        func(b *Bed, _ *Item) { b.Edge = 200 },
		"spacing":     func(b *Bed, _ *Item) { b.Spacing = -1 },
		"no size":     func(_ *Bed, i *Item) { i.Size[1] = math.Inf(1) },
		"copies":      func(_ *Bed, i *Item) { i.Copies = -1 },
		"more than":   func(_ *Bed, i *Item) { i.Copies = math.MaxInt },
		"outline":     func(_ *Bed, i *Item) { i.Outline = [][2]float64{{0, 0}, {1, 0}, {math.NaN(), 1}} },
		"no size, ti": func(_ *Bed, i *Item) { i.Brim = -2 },
	} {
		b, it := bench, box("a", 10, 10, 1)
		change(&b, &it)
		if _, err := Pack([]Item{it}, b); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q, got %v", want, err)
		}
		if _, err := Count([]Item{it}, b); err == nil {
			t.Errorf("%s: counted", want)
		}
	}
}

func BenchmarkPack(b *testing.B) {
	var items []Item
	for i := range 20 {
		items = append(items, box(fmt.Sprint(i), 20+float64(i*7%60), 15+float64(i*13%80), 5))
	}
	for b.Loop() {
		pack(b, items, bench)
	}
}
