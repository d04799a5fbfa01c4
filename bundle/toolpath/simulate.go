package toolpath

import (
	"errors"
	"fmt"
	"math"

	"dropwright/bundle/motion"
)

const inch = 25.4 // mm, exact by definition

// longestWait bounds a G4 to a day, so that one line cannot make the time meaningless.
const longestWait = 86_400

// simulator is the state of the machine between two lines.
type simulator struct {
	machine Machine
	plan    motion.Planner
	w       words

	pos    [4]float64 // X Y Z E as the program counts, mm
	offset [3]float64 // machine axes = pos + offset
	feed   float64    // mm/s, 0: none given
	unit   float64    // mm per program unit

	relative  bool // G91
	relativeE bool // M83
	dragE     bool // G91 holds for E too, no M82 since
	motion    int  // last G0..G3, -1 before the first

	speedup float64 // M220 / 100
	flow    float64 // mm of filament per unit of E: the product of the next two

	flowPercent float64 // M221 / 100
	perUnit     float64 // 1, or mm per mm3 under M200

	fed, mark float64 // filament pushed forward, and its high-water mark
	moves     int
	moved     bool // the present line moves

	layers  layers
	skipped map[code]int
}

func newSimulator(m Machine) *simulator {
	if m.Travel <= 0 {
		m.Travel = DefaultTravel
	}
	s := &simulator{machine: m, unit: 1, motion: -1, speedup: 1, flow: 1, flowPercent: 1, perUnit: 1,
		skipped: map[code]int{}}
	s.plan.Limits = m.Limits
	return s
}

// counted names the M commands that change the totals; all others are skipped with their arguments.
func counted(m int) bool {
	switch m {
	case 82, 83, 200, 220, 221:
		return true
	}
	return false
}

// effective names the M commands that are not simply skipped.
func effective(m int) bool {
	switch m {
	case 0, 1, 32, 98, 109, 190, 400:
		return true
	}
	return counted(m)
}

// line carries out one line.
func (s *simulator) line(text []byte) error {
	s.moved = false
	w := &s.w
	if err := w.parse(text); err != nil {
		return err
	}
	if w.set|w.bare == 0 && w.ng == 0 && w.m < 0 {
		return nil
	}
	if w.has('O') {
		return errors.New("words of O (subprograms) are not understood; export the file without them")
	}
	if w.has('T') && w.get('T') != 0 {
		return fmt.Errorf("tool T%g: a part is printed with one tool, T0", w.get('T'))
	}
	if w.m >= 0 {
		if w.ng > 0 {
			return errors.New("a G and an M command on one line; put them on two lines")
		}
		return s.misc(w.m)
	}
	act := -1
	for _, g := range w.g[:w.ng] {
		switch g {
		case 20:
			s.unit = inch
		case 21:
			s.unit = 1
		case 90:
			s.relative, s.dragE = false, false
		case 91:
			s.relative, s.dragE = true, true
		case 0, 1, 2, 3, 4, 28, 92:
			if act >= 0 {
				return fmt.Errorf("commands G%d and G%d on one line; put them on two lines", act, g)
			}
			act = g
		case 10, 11, 17, 29, 30, 31, 32, 33, 34, 40, 49, 54, 80, 94:
			// Retraction by the firmware (out and in again), probing, and defaults: no filament,
			// and no move of the print. Their arguments mean nothing here.
			if g == 10 && w.has('L') {
				return errors.New("G10 L (offsets) is not understood; use G92")
			}
			s.skipped[code{'G', g}]++
			if w.ng == 1 {
				return nil
			}
		default:
			return fmt.Errorf("command G%d is not understood, and leaving it out would give a wrong total; export the file without it", g)
		}
	}
	const axes = 1<<('X'-'A') | 1<<('Y'-'A') | 1<<('Z'-'A') | 1<<('E'-'A')
	if act < 0 {
		switch {
		case w.set&axes != 0 && s.motion >= 0:
			act = s.motion
		case w.set&axes != 0:
			return errors.New("axis words without a command; begin the line with G0 or G1")
		case w.has('F'):
			act = 1
		default:
			return nil
		}
	}
	switch act {
	case 28:
		return s.home()
	case 92:
		return s.rename()
	case 4:
		return s.wait()
	}
	return s.move(act)
}

// misc carries out an M command.
func (s *simulator) misc(m int) error {
	w := &s.w
	switch m {
	case 82:
		s.relativeE, s.dragE = false, false
	case 83:
		s.relativeE = true
	case 200: // E in mm3 of filament of diameter D; D0 ends it
		s.perUnit = 1
		if d := w.get('D') * s.unit; d != 0 {
			if d < 0.5 || d > 10 {
				return fmt.Errorf("M200 D%g: not a filament diameter", w.get('D'))
			}
			s.perUnit = 1 / (math.Pi / 4 * d * d)
		}
		s.flow = s.flowPercent * s.perUnit
	case 220, 221:
		if !w.has('S') {
			return nil // asks for the present value
		}
		v := w.get('S') / 100
		if v < 0.01 || v > 10 {
			return fmt.Errorf("command M%d S%g: 1 to 1000 percent expected", m, w.get('S'))
		}
		if m == 220 {
			s.speedup = v
		} else {
			s.flowPercent = v
			s.flow = s.flowPercent * s.perUnit
		}
	case 32, 98:
		return fmt.Errorf("command M%d runs another file, which is not here; put its lines in this one", m)
	case 0, 1, 109, 190, 400: // the head waits
		s.plan.Stop()
		s.skipped[code{'M', m}]++
	default:
		s.skipped[code{'M', m}]++
	}
	return nil
}

// home travels to the zero of the named axes, of all three without a name, and forgets G92 for them.
func (s *simulator) home() error {
	w := &s.w
	all := !w.has('X') && !w.has('Y') && !w.has('Z')
	var d [3]float64
	for i, letter := range [3]byte{'X', 'Y', 'Z'} {
		if all || w.has(letter) {
			d[i] = -(s.pos[i] + s.offset[i])
			s.pos[i], s.offset[i] = 0, 0
		}
	}
	s.plan.Stop()
	s.plan.Line(d, s.machine.Travel)
	s.plan.Stop()
	return nil
}

// rename gives the present place new coordinates; without words all become zero.
func (s *simulator) rename() error {
	w := &s.w
	if w.bare != 0 {
		return errors.New("G92 with an axis but no number; write for example G92 E0")
	}
	all := !w.has('X') && !w.has('Y') && !w.has('Z') && !w.has('E')
	for i, letter := range [4]byte{'X', 'Y', 'Z', 'E'} {
		if !all && !w.has(letter) {
			continue
		}
		to := 0.0
		if !all {
			to = w.get(letter) * s.unit
		}
		if i < 3 {
			s.offset[i] += s.pos[i] - to
		}
		s.pos[i] = to
	}
	return nil
}

// wait is G4.
func (s *simulator) wait() error {
	w := &s.w
	t := w.get('P') / 1000
	if w.has('S') {
		t = w.get('S')
	}
	if w.bare != 0 || t < 0 || t > longestWait {
		return errors.New("G4 wants P milliseconds or S seconds, at most a day")
	}
	s.plan.Wait(t)
	return nil
}

// move is G0 to G3.
func (s *simulator) move(g int) error {
	w := &s.w
	s.motion = g
	const known = 1<<('N'-'A') | 1<<('X'-'A') | 1<<('Y'-'A') | 1<<('Z'-'A') | 1<<('E'-'A') | 1<<('F'-'A') |
		1<<('I'-'A') | 1<<('J'-'A') | 1<<('R'-'A') | 1<<('S'-'A') | 1<<('P'-'A') | 1<<('T'-'A')
	if odd := w.set &^ known; odd != 0 {
		for c := byte('A'); c <= 'Z'; c++ {
			if odd&(1<<(c-'A')) != 0 {
				return fmt.Errorf("word %c in a move is not understood", c)
			}
		}
	}
	if w.bare != 0 {
		for c := byte('A'); c <= 'Z'; c++ {
			if w.bare&(1<<(c-'A')) != 0 {
				return fmt.Errorf("%c without a number", c)
			}
		}
	}
	if w.has('F') {
		f := w.get('F') * s.unit / 60
		if f <= 0 {
			return fmt.Errorf("feed rate F%g must be above zero", w.get('F'))
		}
		s.feed = f
	}
	from := s.pos
	for i, letter := range [4]byte{'X', 'Y', 'Z', 'E'} {
		if !w.has(letter) {
			continue
		}
		v := w.get(letter) * s.unit
		rel := s.relative
		if i == 3 {
			rel = s.relativeE || s.dragE
		}
		if rel {
			v += s.pos[i]
		}
		s.pos[i] = v
		if i < 3 && math.Abs(v+s.offset[i]) > greatest {
			return fmt.Errorf("%c ends more than %g mm from zero", letter, float64(greatest))
		}
		s.moved = true
	}
	feed := 0.0
	if w.has('E') {
		feed = (s.pos[3] - from[3]) * s.flow
		if s.relativeE || s.dragE {
			feed = w.get('E') * s.unit * s.flow
		}
	}
	speed := s.feed
	if speed == 0 {
		speed = s.machine.Travel
	}
	speed *= s.speedup
	if g >= 2 {
		return s.arc(g == 2, from, feed, speed)
	}
	if w.has('I') || w.has('J') || w.has('R') {
		return fmt.Errorf("words I, J and R belong to arcs (G2, G3), not to G%d", g)
	}
	if !s.moved {
		return nil
	}
	d := [3]float64{s.pos[0] - from[0], s.pos[1] - from[1], s.pos[2] - from[2]}
	if d == [3]float64{} {
		s.feedOnly(feed, speed)
		return nil
	}
	s.moves++
	s.plan.Line(d, speed)
	if feed > 0 {
		if err := s.layers.enter(from[2]+s.offset[2], d[2] != 0, d[0] != 0 || d[1] != 0); err != nil {
			return err
		}
		s.cover(from[0], from[1], from[2])
		s.cover(s.pos[0], s.pos[1], s.pos[2])
	}
	s.push(feed)
	return nil
}

// feedOnly is a move of the filament alone: from rest to rest.
func (s *simulator) feedOnly(feed, speed float64) {
	if feed == 0 {
		return
	}
	s.plan.Wait(motion.Trap(math.Abs(feed), 0, 0, speed, s.machine.Acceleration))
	s.push(feed)
}

// cover makes a point in the program's coordinates part of what was printed.
func (s *simulator) cover(x, y, z float64) {
	s.layers.now.add([3]float64{x + s.offset[0], y + s.offset[1], z + s.offset[2]})
}

// push moves the filament.
func (s *simulator) push(feed float64) {
	s.fed += feed
	if s.fed > s.mark {
		s.mark = s.fed
	}
}

// finish sums up.
func (s *simulator) finish() Result {
	r := Result{
		Moves:     s.moves,
		Filament:  s.mark,
		Retracted: s.mark - s.fed,
		Seconds:   s.plan.Seconds(),
		Spiral:    s.layers.spiral,
		Skipped:   skippedList(s.skipped),
	}
	s.layers.sum(&r)
	return r
}
