package toolpath

import (
	"errors"
	"fmt"
	"math"
)

// arc is G2 (clockwise) and G3. It is one curve with one speed limit, not a row of chords: its
// length, its end directions and its extent are exact.
func (s *simulator) arc(clockwise bool, from [4]float64, feed, speed float64) error {
	w := &s.w
	if w.has('P') {
		return errors.New("the word P on an arc (further turns) is not understood; write one arc a turn")
	}
	dx, dy, dz := s.pos[0]-from[0], s.pos[1]-from[1], s.pos[2]-from[2]
	// From the start: the centre.
	var i, j float64
	switch {
	case w.has('R') && (w.has('I') || w.has('J')):
		return errors.New("an arc has either R or I and J")
	case w.has('R'):
		var err error
		if i, j, err = centre(dx, dy, w.get('R')*s.unit, clockwise); err != nil {
			return err
		}
	case w.has('I') || w.has('J'):
		i, j = w.get('I')*s.unit, w.get('J')*s.unit
	default:
		return errors.New("an arc needs I and J (its centre from its start) or R (its radius)")
	}
	r0, r1 := math.Hypot(i, j), math.Hypot(dx-i, dy-j)
	if r0 == 0 {
		return errors.New("an arc of radius zero")
	}
	// Files carry three decimals; half a percent lets large flat arcs pass. A centre that misses by
	// more was meant otherwise (absolute I and J, or a cut number).
	if math.Abs(r1-r0) > 0.05+0.005*r0 {
		return fmt.Errorf("the arc starts %.3f mm and ends %.3f mm from its centre", r0, r1)
	}
	r := (r0 + r1) / 2
	sweep := 2 * math.Pi
	if math.Hypot(dx, dy) > 1e-9 {
		sweep = math.Atan2(-i*(dy-j)+j*(dx-i), -i*(dx-i)-j*(dy-j))
		if clockwise {
			sweep = -sweep
		}
		if sweep <= 0 {
			sweep += 2 * math.Pi
		}
	}
	flat := r * sweep
	length := math.Hypot(flat, dz)
	level, rise := flat/length, dz/length
	turn := 1.0
	if clockwise {
		turn = -1
	}
	in := [3]float64{turn * j / r0 * level, -turn * i / r0 * level, rise}
	out := in
	if r1 > 0 {
		out = [3]float64{-turn * (dy - j) / r1 * level, turn * (dx - i) / r1 * level, rise}
	}
	s.moved = true
	s.moves++
	s.plan.Curve(length, in, out, math.Min(speed, s.machine.ArcSpeed(r)))
	if feed > 0 {
		if err := s.layers.enter(from[2]+s.offset[2], dz != 0, true); err != nil {
			return err
		}
		s.cover(from[0], from[1], from[2])
		s.cover(s.pos[0], s.pos[1], s.pos[2])
		cx, cy := from[0]+i, from[1]+j
		start := math.Atan2(-j, -i)
		for k := range 8 { // where it reaches farthest along the axes and the diagonals
			a := float64(k) * math.Pi / 4
			past := math.Mod(turn*(a-start)+4*math.Pi, 2*math.Pi)
			if past < sweep {
				y, x := math.Sincos(a)
				s.cover(cx+r*x, cy+r*y, from[2]+dz*past/sweep)
			}
		}
	}
	s.push(feed)
	return nil
}

// centre is the centre, from the start, of the arc of radius r over the chord (dx, dy); a negative
// radius asks for the longer way round.
func centre(dx, dy, r float64, clockwise bool) (i, j float64, err error) {
	chord := math.Hypot(dx, dy)
	if chord == 0 {
		return 0, 0, errors.New("the word R cannot give a full circle; use I and J")
	}
	h2 := r*r - chord*chord/4
	if h2 < 0 {
		// Rounded half circles: the chord may be longer than the diameter by the last digits.
		if chord/2 > math.Abs(r)+0.005+0.001*math.Abs(r) {
			return 0, 0, fmt.Errorf("radius %g mm is too short for ends %.3f mm apart", math.Abs(r), chord)
		}
		h2 = 0
	}
	h := math.Sqrt(h2)
	// Counter-clockwise the centre of the shorter arc lies left of the chord.
	if clockwise != (r < 0) {
		h = -h
	}
	return dx/2 - h*dy/chord, dy/2 + h*dx/chord, nil
}
