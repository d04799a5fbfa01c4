package motion

import "math"

// window is how many moves are held back until their speeds are settled. Controllers look 16 to
// 128 moves ahead (from memory); we take more, so that the sum does not depend on the window: a speed
// is final as soon as no later move can change it, and that fails only where more than three quarters
// of a window lie within one braking distance.
const window = 1024

// held is one move whose speeds are not settled.
type held struct {
	length float64
	speed  float64
	limit2 float64 // square of the greatest speed at its start: corner, own and former speed
	enter2 float64 // square of the speed at its start, as far as known
}

// Planner adds up the time of moves that follow each other. Between two moves it slows down to the
// corner speed, and before that as early as the acceleration asks for: a backward pass limits each
// start by what can still be braked, a forward pass by what can be reached. It keeps a fixed number
// of moves, so a path may have any length. The zero value is ready for use and has no limits; a
// Planner is not safe for concurrent use.
type Planner struct {
	Limits

	moves   [window]held
	n       int
	from2   float64    // square of the speed at the start of moves[0], settled
	out     [3]float64 // direction in which the last move ends
	moving  bool       // the last move may be followed without a stop
	seconds float64
}

// Reset forgets all moves and their time; the limits stay.
func (p *Planner) Reset() {
	p.n, p.from2, p.moving, p.seconds = 0, 0, false, 0
}

// Line adds a straight move by d (mm) with at most the given speed (mm/s). A move without length or
// speed is skipped.
func (p *Planner) Line(d [3]float64, speed float64) {
	l := math.Sqrt(d[0]*d[0] + d[1]*d[1] + d[2]*d[2])
	if l <= 0 {
		return
	}
	u := [3]float64{d[0] / l, d[1] / l, d[2] / l}
	p.Curve(l, u, u, speed)
}

// Curve adds a move of the given length (mm) whose path starts in the unit direction in and ends in
// the unit direction out, with at most the given speed (mm/s). What the bend of the path itself
// allows is the caller's business (ArcSpeed).
func (p *Planner) Curve(length float64, in, out [3]float64, speed float64) {
	if length <= 0 || speed <= 0 {
		return
	}
	var limit2 float64
	if p.moving {
		limit2 = p.corner2(p.out[0]*in[0] + p.out[1]*in[1] + p.out[2]*in[2])
		if v := speed * speed; v < limit2 {
			limit2 = v
		}
		if p.n > 0 {
			if v := p.moves[p.n-1].speed; v*v < limit2 {
				limit2 = v * v
			}
		}
	}
	if p.n == window {
		p.settle()
	}
	p.moves[p.n] = held{length: length, speed: speed, limit2: limit2}
	p.n++
	p.out, p.moving = out, true
}

// ArcSpeed is the greatest speed (mm/s) on an arc of radius r (mm): the acceleration toward the
// centre, v*v/r, stays within the limit.
func (l Limits) ArcSpeed(r float64) float64 {
	if l.Acceleration <= 0 {
		return math.Inf(1)
	}
	return math.Sqrt(l.Acceleration * r)
}

// Stop brings the head to rest: the next move starts from zero.
func (p *Planner) Stop() { p.moving = false }

// Wait stops the head and adds the given time in seconds.
func (p *Planner) Wait(seconds float64) {
	p.Stop()
	p.seconds += seconds
}

// Seconds brings the head to rest and returns the time of all moves since Reset.
func (p *Planner) Seconds() float64 {
	p.plan()
	p.commit(p.n)
	p.Stop()
	p.from2 = 0
	return p.seconds
}

// plan settles the start speeds of the held moves as if the head came to rest after the last one.
func (p *Planner) plan() {
	a2 := 2 * p.Acceleration
	free := p.Acceleration <= 0
	next := 0.0
	for i := p.n - 1; i > 0; i-- {
		m := &p.moves[i]
		e := next + a2*m.length
		if free || m.limit2 < e {
			e = m.limit2
		}
		m.enter2, next = e, e
	}
	if p.n == 0 {
		return
	}
	p.moves[0].enter2 = p.from2
	if free {
		return
	}
	for i := 1; i < p.n; i++ {
		if reach := p.moves[i-1].enter2 + a2*p.moves[i-1].length; reach < p.moves[i].enter2 {
			p.moves[i].enter2 = reach
		}
	}
}

// settle makes room: it books the moves up to the last start that no later move can change.
func (p *Planner) settle() {
	p.plan()
	a2 := 2 * p.Acceleration
	k := p.n - 1
	for ; k > 0; k-- {
		m := &p.moves[k]
		// At its own limit, or as fast as full acceleration from a settled start gets it.
		if m.enter2 >= m.limit2 || m.enter2 >= p.moves[k-1].enter2+a2*p.moves[k-1].length {
			break
		}
	}
	if k < p.n/4 {
		// Nearly all of it is one braking ramp: book a quarter as planned, or each new move would
		// cost a pass over the window. The time is then a little too long, as it is on a machine
		// that looks no further ahead either.
		k = p.n / 4
	}
	p.commit(k)
}

// commit books the time of the first k moves and drops them.
func (p *Planner) commit(k int) {
	if k == 0 {
		return
	}
	u := math.Sqrt(p.moves[0].enter2)
	for i := range k {
		w := 0.0
		if i+1 < p.n {
			w = math.Sqrt(p.moves[i+1].enter2)
		}
		m := &p.moves[i]
		p.seconds += Trap(m.length, u, w, m.speed, p.Acceleration)
		u = w
	}
	if k < p.n {
		p.from2 = p.moves[k].enter2
	}
	p.n = copy(p.moves[:], p.moves[k:p.n])
}
