package fit

import (
	"math"
	"math/rand/v2"
	"testing"
)

func spotsAt(ps ...[2]float64) []spot {
	var out []spot
	for i, p := range ps {
		out = append(out, spot{cand: i, at: p, score: 1, other: math.NaN()})
	}
	return out
}

// Any pattern laid on its own turned, shifted and mirrored copy matches wholly, whatever order its holes
// come in and whatever other holes lie about; one hole moved by more than the play no longer does.
func TestLayFindsAnyMotion(t *testing.T) {
	rnd := rand.New(rand.NewPCG(6, 1))
	for trial := range 300 {
		n := 3 + rnd.IntN(5)
		var a []spot
		for len(a) < n {
			p := [2]float64{rnd.Float64() * 100, rnd.Float64() * 60}
			if clear(a, p, 4) {
				a = append(a, spot{cand: len(a), at: p, score: 1, other: math.NaN()})
			}
		}
		turn, mirror := rnd.Float64()*2*math.Pi, 1-2*float64(rnd.IntN(2))
		sin, cos := math.Sincos(turn)
		var b []spot
		for _, s := range a {
			u, v := s.at[0], s.at[1]*mirror
			b = append(b, spot{at: [2]float64{cos*u - sin*v + 17, sin*u + cos*v - 5}, score: 1, other: math.NaN()})
		}
		for range rnd.IntN(4) {
			p := [2]float64{rnd.Float64()*300 - 150, rnd.Float64()*300 - 150}
			if clear(b, p, 4) {
				b = append(b, spot{at: p, score: 0.5, other: math.NaN()})
			}
		}
		rnd.Shuffle(len(b), func(i, j int) { b[i], b[j] = b[j], b[i] })
		for i := range b {
			b[i].cand = i
		}
		p := lay(a, b, n, patternPlay)
		if len(p.pairs) != n || !p.known {
			t.Fatalf("trial %d: %d of %d holes laid on their copy", trial, len(p.pairs), n)
		}
		for _, x := range p.pairs {
			if x.apart > 1e-6 {
				t.Fatalf("trial %d: a hole lies %g mm beside its copy", trial, x.apart)
			}
			back := p.move.inverse().apply(p.move.apply(a[x.a].at))
			if math.Hypot(back[0]-a[x.a].at[0], back[1]-a[x.a].at[1]) > 1e-9 {
				t.Fatalf("trial %d: the inverse motion does not lead back", trial)
			}
		}
		if n >= 4 { // three holes and one moved: the wrong one must not be paired
			moved := append([]spot(nil), b...)
			moved[p.pairs[0].b].at[0] += 3 * patternPlay
			moved[p.pairs[0].b].at[1] += 3 * patternPlay
			if q := lay(a, moved, n, patternPlay); len(q.pairs) >= n {
				t.Fatalf("trial %d: a hole %g mm aside was taken for a match", trial, 3*patternPlay*math.Sqrt2)
			}
		}
	}
}

func clear(s []spot, p [2]float64, least float64) bool {
	for _, o := range s {
		if math.Hypot(o.at[0]-p[0], o.at[1]-p[1]) < least {
			return false
		}
	}
	return true
}

// The search on a regular grid is bounded: a vent of 48 holes on another must come back soon and whole.
func TestLayOnGrids(t *testing.T) {
	var ps [][2]float64
	for i := range mostSpots {
		ps = append(ps, [2]float64{float64(i%8) * 5, float64(i/8) * 5})
	}
	a := spotsAt(ps...)
	if p := lay(a, a, mostSpots, patternPlay); len(p.pairs) != mostSpots {
		t.Errorf("%d of %d holes of a grid laid on itself", len(p.pairs), mostSpots)
	}
	half := spotsAt(ps[:mostSpots/2]...)
	if p := lay(half, a[1:], mostSpots, patternPlay); len(p.pairs) < mostSpots/2-4 {
		t.Errorf("%d of %d holes of a part of a grid", len(p.pairs), mostSpots/2)
	}
}

func TestLayOfFew(t *testing.T) {
	if p := lay(nil, spotsAt([2]float64{1, 1}), 4, patternPlay); len(p.pairs) != 0 {
		t.Error("nothing was laid on something")
	}
	a := spotsAt([2]float64{0, 0}, [2]float64{10, 0})
	b := spotsAt([2]float64{50, 50}, [2]float64{50, 63}, [2]float64{50, 73})
	if p := lay(a, b, 2, patternPlay); len(p.pairs) != 2 || p.pairs[0].b == 0 || p.pairs[1].b == 0 {
		t.Errorf("holes 10 apart were not laid on those 10 apart: %+v", p.pairs)
	}
	b[2].at[1] = 73 + 2*patternPlay*1.2 // 10.7 apart: no match any more
	if p := lay(a, b, 2, patternPlay); p.known {
		t.Errorf("holes 10 apart were laid on holes 10.7 apart: %+v", p.pairs)
	}
}

// A face that lies lower than those of the other holes shows, whichever hole it is and however the part lies.
func TestLevelsShowTheLowOne(t *testing.T) {
	corners := [][2]float64{{0, 0}, {30, 0}, {30, 20}, {0, 20}}
	for odd := range corners {
		plate, posts := spotsAt(corners...), spotsAt(corners...)
		for i := range posts {
			plate[i].level, plate[i].other = 2, 0
			posts[i].level = 12
		}
		posts[odd].level = 5
		p := lay(plate, posts, 4, patternPlay)
		for _, x := range p.pairs {
			if want := 7 * b2f(x.b == odd); math.Abs(x.low-want) > 1e-9 {
				t.Errorf("post %d: the face is %g mm low, want %g", x.b, x.low, want)
			}
		}
	}
	// A stepped plate on posts of matching steps touches everywhere.
	plate, posts := spotsAt(corners...), spotsAt(corners...)
	for i := range posts {
		step := float64(i) * 1.5
		plate[i].level, plate[i].other = 2+step, 0
		posts[i].level = 20 - step
	}
	for _, x := range lay(plate, posts, 4, patternPlay).pairs {
		if math.Abs(x.low) > 1e-9 {
			t.Errorf("a stepped plate on matching posts: face %d is %g mm low", x.b, x.low)
		}
	}
}

func b2f(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
