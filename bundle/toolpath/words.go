package toolpath

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strconv"
)

// code is a command: letter and whole number.
type code struct {
	letter byte
	number int
}

// words are the letter-number pairs of one line. Of G words there may be several (units, mode and
// one motion); any other letter stands once.
type words struct {
	g     [6]int // commands in their order
	ng    int
	m     int // M command, -1 without
	set   uint32
	bare  uint32 // letters without a number
	value [26]float64
}

// has says whether the letter occurs.
func (w *words) has(letter byte) bool { return w.set&(1<<(letter-'A')) != 0 }

// get is the letter's number, 0 if it does not occur.
func (w *words) get(letter byte) float64 {
	if !w.has(letter) {
		return 0
	}
	return w.value[letter-'A']
}

// greatest is the largest number taken at face value. A bed has some hundred millimetres; absolute
// E passes 1e6 in a print of a few kilograms; feed rates stay below 1e5 mm/min.
const greatest = 1e7

var errNumber = errors.New("number expected")

// parse fills w from the line. Values of letters that are not in w.set are stale.
func (w *words) parse(line []byte) error {
	w.ng, w.m, w.set, w.bare = 0, -1, 0, 0
	i := 0
	for i < len(line) {
		c := line[i]
		switch {
		case c == ' ' || c == '\t':
			i++
			continue
		case c == ';':
			return nil
		case c == '(':
			n := bytes.IndexByte(line[i:], ')')
			if n < 0 {
				return errors.New("comment opened with ( is not closed")
			}
			i += n + 1
			continue
		case c == '*':
			return checksum(line, i)
		case c == '%' && w.set == 0 && w.ng == 0:
			return nil // mark of start and end of an RS-274 tape
		}
		letter := c &^ 0x20
		if letter < 'A' || letter > 'Z' || c < 'A' {
			return fmt.Errorf("byte %q is not G-code", c)
		}
		if name := macro(line[i:]); name != nil {
			return fmt.Errorf("%q is a name, not G-code; what a firmware's macro does is not in the file, so export it without", clip(name))
		}
		i++
		for i < len(line) && (line[i] == ' ' || line[i] == '\t') {
			i++
		}
		value, n, err := number(line[i:])
		if err != nil {
			return fmt.Errorf("after %c: %w", letter, err)
		}
		i += n
		switch letter {
		case 'G':
			k, err := whole(letter, value, n)
			if err != nil {
				return err
			}
			if w.ng == len(w.g) {
				return errors.New("more than six G commands")
			}
			w.g[w.ng] = k
			w.ng++
			continue
		case 'M':
			k, err := whole(letter, math.Trunc(value), n)
			if err != nil {
				return err
			}
			if w.m >= 0 {
				return errors.New("two M commands")
			}
			w.m = k
			if sub := value != math.Trunc(value); sub && effective(k) {
				return fmt.Errorf("command M%g is not understood", value)
			} else if sub || !counted(k) {
				return framed(line, w.has('N')) // its arguments may be text
			}
			continue
		}
		bit := uint32(1) << (letter - 'A')
		if w.set&bit != 0 {
			return fmt.Errorf("%c stands twice", letter)
		}
		w.set |= bit
		w.value[letter-'A'] = value
		if n == 0 {
			w.bare |= bit
		}
	}
	return nil
}

// macro returns the name of four letters or more at the start of b, nil if there is none: words have one
// letter, and axes without numbers stand together at most as XYZ.
func macro(b []byte) []byte {
	n := 0
	for n < len(b) && (b[n] == '_' || b[n]|0x20 >= 'a' && b[n]|0x20 <= 'z') {
		n++
	}
	if n < 4 {
		return nil
	}
	return b[:n]
}

// whole is the number of a command.
func whole(letter byte, value float64, n int) (int, error) {
	if n == 0 {
		return 0, fmt.Errorf("%c without a number", letter)
	}
	if value < 0 || value > 9999 || value != math.Trunc(value) {
		return 0, fmt.Errorf("%c%g is not understood", letter, value)
	}
	return int(value), nil
}

// powers of ten that a float64 holds exactly.
var powers = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// number reads a decimal number at the start of b and returns it and its length; length 0 if there
// is none. There are no exponents in G-code: E is an axis.
func number(b []byte) (float64, int, error) {
	i, negative := 0, false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		negative = b[i] == '-'
		i++
	}
	var mantissa uint64
	digits, decimals, point := 0, 0, false
	for ; i < len(b); i++ {
		c := b[i]
		if c == '.' && !point {
			point = true
			continue
		}
		if c < '0' || c > '9' {
			break
		}
		if digits < 19 {
			mantissa = mantissa*10 + uint64(c-'0')
		}
		digits++
		if point {
			decimals++
		}
	}
	if digits == 0 {
		if i > 0 {
			return 0, 0, errNumber
		}
		return 0, 0, nil
	}
	if digits > 60 {
		return 0, 0, errors.New("number of more than 60 digits")
	}
	var v float64
	if digits <= 15 { // both exact, one rounding: the nearest float64
		v = float64(mantissa) / powers[decimals]
	} else {
		var err error
		if v, err = strconv.ParseFloat(string(bytes.TrimLeft(b[:i], "+-")), 64); err != nil {
			return 0, 0, errNumber
		}
	}
	if v > greatest {
		return 0, 0, fmt.Errorf("number %s is out of range (at most %g)", b[:i], float64(greatest))
	}
	if negative {
		v = -v
	}
	return v, i, nil
}

// framed checks the checksum of a line whose arguments were not read.
func framed(line []byte, numbered bool) error {
	if !numbered {
		return nil
	}
	if i := bytes.LastIndexByte(line, '*'); i >= 0 {
		return checksum(line, i)
	}
	return nil
}

// checksum compares the number after the star at line[star] with the exclusive or of all bytes
// before it, as RepRap's serial protocol has it (community documentation, from memory).
func checksum(line []byte, star int) error {
	var sum byte
	for _, c := range line[:star] {
		sum ^= c
	}
	rest := line[star+1:]
	if i := bytes.IndexByte(rest, ';'); i >= 0 {
		rest = rest[:i]
	}
	rest = bytes.TrimSpace(rest)
	v, err := strconv.ParseUint(string(rest), 10, 16)
	if err != nil {
		return fmt.Errorf("checksum %q is not a number", clip(rest))
	}
	if v != uint64(sum) {
		return fmt.Errorf("checksum is %d, the line's bytes give %d: damaged or cut off", v, sum)
	}
	return nil
}

// clip keeps quoted input short.
func clip(b []byte) []byte {
	if len(b) > 20 {
		return b[:20]
	}
	return b
}
