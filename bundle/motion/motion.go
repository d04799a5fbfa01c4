// Package motion turns moves of a printer's head into time: constant acceleration, a corner speed
// that follows from the turn between two moves, and one speed limit a move. Package estimate feeds
// it lines it has counted, package toolpath the moves of a file; both get time from the same rules.
//
// It is a model of an ideal machine. It knows nothing of one axis being slower than another, of
// jerk-limited (S-shaped) ramps, of pressure, heat or the time a controller takes to read a line.
//
// Conventions: millimetres, seconds, mm/s and mm/s2. Speeds are never negative.
package motion

import "math"

// Limits says how fast a machine may change its speed. The zero value means "no limit": every move
// then takes length over speed.
type Limits struct {
	Acceleration    float64 // mm/s2 along the path; 0 or less: at once
	CornerDeviation float64 // mm by which a rounded corner may miss the drawn one; 0: stop in every corner
}

// straight is how near to 1 the sine of half the inner angle must come for a corner to count as
// none. 1e-9 is a turn of 0.005 degrees; below it 1-s has lost its digits to rounding.
const straight = 1e-9

// Trap is the time in seconds of a straight move of length l (mm) that enters at u, leaves at w and
// may reach v (mm/s) with acceleration a (mm/s2): ramp, cruise, ramp; or two ramps that meet at
// p = sqrt(a*l + (u*u+w*w)/2) when v is out of reach. It wants u and w no greater than v and within
// reach of each other over l, which Planner sees to. Without an acceleration (a <= 0) it is l/v;
// a move without length takes no time.
//
// The formula is the textbook motion under constant acceleration (v*v = u*u + 2*a*s).
func Trap(l, u, w, v, a float64) float64 {
	if l <= 0 || v <= 0 {
		return 0
	}
	if a <= 0 {
		return l / v
	}
	ramps := (2*v*v - u*u - w*w) / (2 * a)
	if ramps <= l {
		return (2*v-u-w)/a + (l-ramps)/v
	}
	p := math.Sqrt(a*l + (u*u+w*w)/2)
	return math.Max(0, (2*p-u-w)/a)
}

// Corner is the speed in mm/s at which the corner between two moves may be taken, dot being the
// scalar product of their unit directions: 1 straight on (no limit, +Inf), 0 a right angle, -1 back
// the way it came (0). The head is thought to round the corner on an arc that misses it by the
// corner deviation d, with the acceleration a toward the arc's centre: v = sqrt(a*d*s/(1-s)),
// s the sine of half the inner angle. The formula is common practice of open motion controllers,
// from memory.
func (l Limits) Corner(dot float64) float64 {
	return math.Sqrt(l.corner2(dot))
}

// corner2 is the square of Corner; Planner works in squares and saves the root.
func (l Limits) corner2(dot float64) float64 {
	if l.Acceleration <= 0 {
		return math.Inf(1)
	}
	s := math.Sqrt(math.Max(0, (1+dot)/2))
	if 1-s < straight {
		return math.Inf(1)
	}
	return l.Acceleration * l.CornerDeviation * s / (1 - s)
}
