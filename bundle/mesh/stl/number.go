package stl

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strconv"
)

// powersOfTen are those that float64 holds exactly.
var powersOfTen = [...]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// number reads a coordinate, rounded to the nearest float32 as strconv would. It works out most
// numbers from their digits in float64; where that lies too near the middle of two float32, or is
// too large, too small or too long to be sure of, strconv decides.
func (p *piece) number() (float32, bool) {
	p.space()
	data, at := p.data[:p.to], p.pos
	start := at
	negative := false
	if at < len(data) && (data[at] == '-' || data[at] == '+') {
		negative = data[at] == '-'
		at++
	}
	var mantissa uint64
	digits, exponent := 0, 0
	for at < len(data) {
		d := data[at] - '0'
		if d > 9 {
			break
		}
		mantissa = mantissa*10 + uint64(d)
		digits++
		at++
	}
	if at < len(data) && data[at] == '.' {
		at++
		dot := at
		for at < len(data) {
			d := data[at] - '0'
			if d > 9 {
				break
			}
			mantissa = mantissa*10 + uint64(d)
			at++
		}
		digits += at - dot
		exponent = dot - at
	}
	if digits > 0 && at < len(data) && data[at]|0x20 == 'e' {
		at++
		minus := false
		if at < len(data) && (data[at] == '-' || data[at] == '+') {
			minus = data[at] == '-'
			at++
		}
		e, first := 0, at
		for at < len(data) && data[at]-'0' <= 9 && e < 10000 {
			e = e*10 + int(data[at]-'0')
			at++
		}
		if at == first {
			digits = 0 // "1e" is no number
		}
		if minus {
			e = -e
		}
		exponent += e
	}
	if digits == 0 || at < len(data) && !isSpace(data[at]) {
		return p.slowNumber(start)
	}
	// 19 digits fit in 64 bits; more may have wrapped around.
	if digits > 19 || exponent < -22 || exponent > 22 {
		return p.slowNumber(start)
	}
	f := float64(mantissa)
	if exponent < 0 {
		f /= powersOfTen[-exponent]
	} else {
		f *= powersOfTen[exponent]
	}
	// Two roundings so far, an error below 2 units of the last of 53 bits. float32 keeps 24, so 29 are
	// dropped: not safe next to half of that.
	rest := math.Float64bits(f) & (1<<29 - 1)
	if rest-(1<<28-4) <= 8 || f < 1.2e-38 && mantissa != 0 || f > 3.4e38 {
		return p.slowNumber(start)
	}
	if negative {
		f = -f
	}
	p.pos = at
	return float32(f), true
}

// slowNumber reads the number at start with strconv, or says what is wrong with it.
func (p *piece) slowNumber(start int) (float32, bool) {
	p.pos = start
	t := p.token()
	if len(t) == 0 {
		p.expected("a coordinate")
		return 0, false
	}
	// strconv also takes hexadecimal, underscores, "inf" and "nan", which no STL file may hold.
	plain := len(t) <= 400 && bytes.IndexFunc(t, func(r rune) bool { return !bytes.ContainsRune([]byte("0123456789+-.eE"), r) }) < 0
	var v float64
	err := errors.New("not a decimal number")
	if plain {
		v, err = strconv.ParseFloat(string(t), 32)
	}
	if err != nil {
		text := fmt.Sprintf("%q is not a coordinate", shorten(t))
		if bytes.IndexByte(t, ',') >= 0 {
			text += ": a number is written with a point, not a comma"
		}
		p.fail(start, text)
		return 0, false
	}
	p.pos += len(t)
	return float32(v), true
}

// skipNumber passes over one number of a normal. Normals are computed anew from the corners, so any
// text will do that is no keyword: some writers put "nan" or "-1.#IND" for facets without area.
func (p *piece) skipNumber() {
	t := p.token()
	if len(t) == 0 || bytes.EqualFold(t, []byte("outer")) {
		p.expected("a number of the normal")
		return
	}
	p.pos += len(t)
}
