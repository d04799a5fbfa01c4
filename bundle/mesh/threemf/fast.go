package threemf

import (
	"bytes"
	"errors"
	"math"
	"strconv"
)

// The loops below read the elements of which a file has millions, as nearly every program writes
// them: default namespace, double quotes, plain numbers. Whatever else is legal (prefixes, comments,
// other attributes, exponents, entities) falls back to the scanner, element by element, so the result
// is the same.

// room is how many bytes the fast loops want to see ahead; a longer tag goes to the scanner.
const room = 512

var pow10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// fastNumber reads a decimal number without exponent up to the closing double quote of an attribute
// value. It returns the number, rounded once as strconv would, and the index behind the quote; -1
// sends the caller to the scanner.
func fastNumber(b []byte, i int, scale float64) (float32, int) {
	negative := false
	if i < len(b) && b[i] == '-' {
		negative = true
		i++
	}
	mantissa := uint64(0)
	start := i
	for i < len(b) && b[i]-'0' < 10 {
		mantissa = mantissa*10 + uint64(b[i]-'0')
		i++
	}
	digits := i - start
	decimals := 0
	if i < len(b) && b[i] == '.' {
		i++
		point := i
		for i < len(b) && b[i]-'0' < 10 {
			mantissa = mantissa*10 + uint64(b[i]-'0')
			i++
		}
		decimals = i - point
		digits += decimals
		if decimals == 0 {
			return 0, -1
		}
	}
	// 19 digits do not overflow the mantissa; above 2^53 it is no longer exact as a float64.
	if digits == 0 || digits > 19 || mantissa > 1<<53 || i >= len(b) || b[i] != '"' {
		return 0, -1
	}
	value := float64(mantissa) / pow10[decimals]
	if negative {
		value = -value
	}
	if scale != 1 {
		value *= scale
	} else if low := math.Float64bits(value) & (1<<29 - 1); low-(1<<28-1) <= 2 {
		// Within one step of half-way between two float32: rounding twice may go wrong.
		return 0, -1
	}
	out := float32(value)
	if math.IsInf(float64(out), 0) {
		return 0, -1
	}
	return out, i + 1
}

// fastIndex reads a whole number up to the closing double quote.
func fastIndex(b []byte, i int) (uint32, int) {
	start := i
	n := uint64(0)
	for i < len(b) && b[i]-'0' < 10 {
		n = n*10 + uint64(b[i]-'0')
		i++
	}
	if i == start || i-start > 10 || n > maxID || i >= len(b) || b[i] != '"' {
		return 0, -1
	}
	return uint32(n), i + 1
}

// fastVertex reads one <vertex x="…" y="…" z="…"/> at the start of b, after white space. It returns
// the number of bytes, 0 when the scanner must look.
func fastVertex(b []byte, scale float64, out *[3]float32) int {
	i := 0
	for i < len(b) && isSpace(b[i]) {
		i++
	}
	if len(b)-i < len("<vertex ") || string(b[i:i+8]) != "<vertex " {
		return 0
	}
	i += 7
	for seen := 0; ; {
		spaced := false
		for i < len(b) && isSpace(b[i]) {
			i++
			spaced = true
		}
		if i+3 > len(b) {
			return 0
		}
		if b[i] == '/' {
			if b[i+1] != '>' || seen != 7 {
				return 0
			}
			return i + 2
		}
		axis := int(b[i] - 'x')
		if !spaced || axis < 0 || axis > 2 || seen>>axis&1 != 0 || b[i+1] != '=' || b[i+2] != '"' {
			return 0
		}
		seen |= 1 << axis
		out[axis], i = fastNumber(b, i+3, scale)
		if i < 0 {
			return 0
		}
	}
}

// Attributes of a triangle, as indices into triangle.
const (
	attrV1 = iota
	attrV2
	attrV3
	attrP1
	attrP2
	attrP3
	attrPID
	attrCount
)

// triangle is what one <triangle> says; seen has a bit for each attribute that is there.
type triangle struct {
	value [attrCount]uint32
	seen  uint
}

// fastTriangle is fastVertex for <triangle v1="…" v2="…" v3="…"/> with or without properties.
func fastTriangle(b []byte, out *triangle) int {
	i := 0
	for i < len(b) && isSpace(b[i]) {
		i++
	}
	if len(b)-i < len("<triangle ") || string(b[i:i+10]) != "<triangle " {
		return 0
	}
	i += 9
	out.seen = 0
	for {
		spaced := false
		for i < len(b) && isSpace(b[i]) {
			i++
			spaced = true
		}
		if i+5 > len(b) {
			if i+2 <= len(b) && b[i] == '/' && b[i+1] == '>' && out.seen&7 == 7 {
				return i + 2
			}
			return 0
		}
		if b[i] == '/' {
			if b[i+1] != '>' || out.seen&7 != 7 {
				return 0
			}
			return i + 2
		}
		which := -1
		digit := b[i+1] - '1'
		switch {
		case b[i] == 'v' && digit < 3:
			which = attrV1 + int(digit)
		case b[i] == 'p' && digit < 3:
			which = attrP1 + int(digit)
		case b[i] == 'p' && b[i+1] == 'i' && b[i+2] == 'd':
			which = attrPID
			i++
		}
		if which < 0 || !spaced || out.seen>>which&1 != 0 || b[i+2] != '=' || b[i+3] != '"' {
			return 0
		}
		out.seen |= 1 << which
		out.value[which], i = fastIndex(b, i+4)
		if i < 0 {
			return 0
		}
	}
}

// ahead returns the bytes from pos on, at least room of them unless the document ends before.
func (s *scanner) ahead() []byte {
	if len(s.buf)-s.pos < room {
		for len(s.buf)-s.pos < room && s.fill() {
		}
	}
	return s.buf[s.pos:]
}

// plain reports whether children of the present element may be read by the fast loops: the default
// namespace is that of core.
func (s *scanner) plain() bool {
	uri, ok := s.uri("")
	return ok && uri == uriCore
}

var errNumber = errors.New("not a number of the form 3MF asks for (like -12.5 or 1e-3)")

// number reads a decimal number of the pattern of ST_Number: no NaN, no infinity, no hexadecimal.
func number(raw []byte) (float64, error) {
	raw = bytes.Trim(raw, " \t\r\n")
	if len(raw) == 0 || len(raw) > 400 {
		return 0, errNumber
	}
	for _, c := range raw {
		if !(c >= '0' && c <= '9') && c != '+' && c != '-' && c != '.' && c != 'e' && c != 'E' {
			return 0, errNumber
		}
	}
	value, err := strconv.ParseFloat(string(raw), 64)
	if err != nil {
		return 0, errNumber
	}
	return value, nil
}

// coordinate is number scaled and rounded to a float32, once if the scale is 1.
func coordinate(raw []byte, scale float64) (float32, error) {
	value, err := number(raw)
	if err != nil {
		return 0, err
	}
	out := float32(value * scale)
	if scale == 1 {
		// Rounded from the text, not from value: rounding twice may end one step off.
		exact, err := strconv.ParseFloat(string(bytes.Trim(raw, " \t\r\n")), 32)
		if err != nil {
			return 0, errNumber
		}
		out = float32(exact)
	}
	if math.IsInf(float64(out), 0) {
		return 0, errNumber
	}
	return out, nil
}

// wholeNumber reads an index or id: decimal digits, below 2^31 (3.1).
func wholeNumber(raw []byte) (uint32, error) {
	raw = bytes.Trim(raw, " \t\r\n")
	n, err := strconv.ParseUint(string(raw), 10, 32)
	if err != nil || n > maxID || len(raw) == 0 || raw[0] == '+' {
		return 0, errors.New("not a whole number below 2147483648")
	}
	return uint32(n), nil
}
