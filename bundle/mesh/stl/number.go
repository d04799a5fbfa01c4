package stl

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/bits"
	"strconv"
)

// powersOfTen are 1e-22 to 1e22; those from 1e0 are exact in float64.
var powersOfTen = [...]float64{
	1e-22, 1e-21, 1e-20, 1e-19, 1e-18, 1e-17, 1e-16, 1e-15, 1e-14, 1e-13, 1e-12,
	1e-11, 1e-10, 1e-9, 1e-8, 1e-7, 1e-6, 1e-5, 1e-4, 1e-3, 1e-2, 1e-1,
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// number reads a coordinate, rounded to the nearest float32 as strconv would. It works out most
// numbers from their digits in float64; where that lies too near the middle of two float32, or is
// too large, too small or too long to be sure of, strconv decides. Signs are random, so they are taken
// without branches.
func (p *piece) number() (float32, bool) {
	p.space()
	data, start := p.data[:p.to], p.pos
	if start+24 > len(data) {
		return p.slowNumber(start) // near the end there may not be eight bytes to load
	}
	at := start
	sign := data[at]
	negative := bit(sign == '-')
	at += int(negative | bit(sign == '+'))
	mantissa, first := uint64(0), at
	for d := data[at] - '0'; d <= 9; d = data[at] - '0' {
		mantissa = mantissa*10 + uint64(d)
		if at++; at+16 > len(data) {
			return p.slowNumber(start)
		}
	}
	digits, exponent := at-first, 0
	if data[at] == '.' {
		at++
		dot := at
		for {
			if at+16 > len(data) {
				return p.slowNumber(start)
			}
			v, n := eightDigits(binary.LittleEndian.Uint64(data[at:]))
			mantissa = mantissa*smallPowers[n] + v
			at += n
			if n < 8 {
				break
			}
		}
		digits += at - dot
		exponent = dot - at
	}
	if digits == 0 || digits > 19 { // 19 digits fit in 64 bits
		return p.slowNumber(start)
	}
	if data[at]|0x20 == 'e' {
		sign, tens, ones := data[at+1], data[at+2]-'0', data[at+3]-'0'
		minus := int(bit(sign == '-'))
		if minus == 0 && sign != '+' || tens > 9 || ones > 9 {
			return p.slowNumber(start)
		}
		e := int(tens)*10 + int(ones)
		exponent += (e ^ -minus) + minus
		at += 4
	}
	if !isSpace(data[at]) || exponent < -22 || exponent > 22 {
		return p.slowNumber(start)
	}
	f := float64(mantissa) * powersOfTen[exponent+22]
	// Three roundings so far, an error below 2 units of the last of 53 bits. float32 keeps 24, so 29
	// are dropped: not safe next to half of that. Nor are subnormal numbers and the largest.
	rest := math.Float64bits(f) & (1<<29 - 1)
	if rest-(1<<28-4) <= 8 || f < 1.2e-38 && mantissa != 0 || f > 3.4e38 {
		return p.slowNumber(start)
	}
	p.pos = at
	return math.Float32frombits(math.Float32bits(float32(f)) | negative<<31), true
}

// bit is 1 for true; the compiler makes it without a branch.
func bit(b bool) uint32 {
	if b {
		return 1
	}
	return 0
}

// smallPowers are the powers of ten that eight digits may need.
var smallPowers = [...]uint64{1, 10, 100, 1000, 10000, 100000, 1000000, 10000000, 100000000}

// eightDigits reads the leading decimal digits of eight characters, the first in the lowest byte, all at
// once: neighbours are combined into pairs, pairs into fours, fours into the eight.
func eightDigits(v uint64) (value uint64, n int) {
	v ^= 0x3030303030303030
	// A byte above 9, or with its top bit set, was no digit.
	n = bits.TrailingZeros64(((v+0x7676767676767676)|v)&0x8080808080808080) / 8
	v <<= 64 - 8*uint(n) // those after it go, zeros come in front; all go if n is 0
	v = v*10 + v>>8
	v = (v&0x000000ff000000ff*0x000f424000000064 + v>>16&0x000000ff000000ff*0x0000271000000001) >> 32
	return v, n
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
