package stl

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"
)

// numberOf reads one number the way a file's is read, and again at the very end of the file, where the
// slow path is taken.
func numberOf(t *testing.T, text string) (float32, bool) {
	t.Helper()
	long := text + "                        "
	a := piece{data: []byte(long), to: len(long)}
	v, ok := a.number()
	b := piece{data: []byte(text), to: len(text)}
	w, ok2 := b.number()
	if ok != ok2 || ok && math.Float32bits(v) != math.Float32bits(w) {
		t.Errorf("%q: %v %v at the start, %v %v at the end of a file", text, v, ok, w, ok2)
	}
	return v, ok
}

// strconv is the outside source: correctly rounded by its own tests.
func TestNumbersAreCorrectlyRounded(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	var texts []string
	for range 20000 {
		v := math.Float32frombits(r.Uint32())
		if v-v != 0 {
			continue
		}
		short := float32(r.NormFloat64() * 100)
		for _, f := range []string{"%e", "%g", "%.9g", "%.3E"} {
			texts = append(texts, fmt.Sprintf(f, v), fmt.Sprintf(f, short))
		}
		texts = append(texts, fmt.Sprintf("%f", short), fmt.Sprintf("%.17g", float64(short)), fmt.Sprintf("+%.4f", math.Abs(float64(short))))
		// Just at, below and above the middle between two float32.
		next := math.Nextafter32(short, 1e9)
		middle := (float64(short) + float64(next)) / 2
		for _, m := range []float64{middle, math.Nextafter(middle, 1e9), math.Nextafter(middle, -1e9)} {
			texts = append(texts, strconv.FormatFloat(m, 'g', -1, 64), strconv.FormatFloat(m, 'f', 30, 64))
		}
	}
	texts = append(texts, "0", "-0", "00012.50", "1.", ".5", "-.5e1", "1e5", "1E5", "1e+5", "1e-05", "1e005",
		"3.4028235e38", "1e-45", "1.4e-45", "7e-46", "123456789012345678901234567890", "0.00000000000000000000000000001")
	for _, s := range texts {
		want, err := strconv.ParseFloat(s, 32)
		if err != nil {
			t.Fatal(s, err)
		}
		if got, ok := numberOf(t, s); !ok || math.Float32bits(got) != math.Float32bits(float32(want)) {
			t.Errorf("%q = %v (%v), want %v", s, got, ok, want)
		}
	}
}

func TestNotNumbers(t *testing.T) {
	for _, s := range []string{"", "-", "+", ".", "e5", "1e", "1e+", "--1", "1.2.3", "1,5", "nan", "NaN", "inf", "-inf",
		"1.#IND", "0x10", "1_000", "1e400", "-4e38", "1e5x", "1.5f", "\u0661"} {
		if v, ok := numberOf(t, s); ok {
			t.Errorf("%q was read as %v", s, v)
		}
	}
}
