package threemf

import (
	"bytes"
	"compress/flate"
	"encoding/hex"
	"io"
	"math/rand"
	"testing"
	"testing/iotest"
)

// samples of input that make an encoder use all kinds of blocks, lengths and distances.
func inflateSamples() [][]byte {
	random := rand.New(rand.NewSource(1))
	noise := make([]byte, 200_000)
	random.Read(noise)
	few := make([]byte, 300_000)
	for i := range few {
		few[i] = "0123456789.\"= <>"[random.Intn(16)]
	}
	skewed := make([]byte, 100_000) // codes of many lengths
	for i := range skewed {
		skewed[i] = byte(min(255, int(random.ExpFloat64()*12)))
	}
	far := append(append(append([]byte{}, noise[:32768]...), noise[:32768]...), noise[:258]...)
	xml := []byte(meshXML(torus(30, 10, 60, 30)))
	return [][]byte{nil, {0}, []byte("abc"), bytes.Repeat([]byte{7}, 500_000), noise, few, skewed, far, xml,
		bytes.Repeat([]byte("abcdefg"), 40_000), append(append([]byte{}, noise[:70_000]...), xml...)}
}

func deflated(t testing.TB, data []byte, level int) []byte {
	t.Helper()
	var buf bytes.Buffer
	w, err := flate.NewWriter(&buf, level)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(data); i += 50_000 {
		w.Write(data[i:min(len(data), i+50_000)])
		if level == 3 {
			w.Flush() // empty stored blocks in between
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// What compress/flate packs at any level comes out again, however the input and output are cut.
func TestInflate(t *testing.T) {
	for i, data := range inflateSamples() {
		for _, level := range []int{0, 1, 3, 6, 9, flate.HuffmanOnly} {
			packed := deflated(t, data, level)
			for what, src := range map[string]io.Reader{"whole": bytes.NewReader(packed), "half": iotest.HalfReader(bytes.NewReader(packed)), "last with error": iotest.DataErrReader(bytes.NewReader(packed))} {
				got, err := io.ReadAll(newInflater(src))
				if err != nil || !bytes.Equal(got, data) {
					t.Errorf("sample %d, level %d, %s: %d of %d bytes, error %v", i, level, what, len(got), len(data), err)
				}
			}
			if len(packed) < 5000 {
				got, err := io.ReadAll(iotest.OneByteReader(newInflater(iotest.OneByteReader(bytes.NewReader(packed)))))
				if err != nil || !bytes.Equal(got, data) {
					t.Errorf("sample %d, level %d, byte by byte: %d of %d bytes, error %v", i, level, len(got), len(data), err)
				}
			}
		}
	}
}

// Cut anywhere it is an error, as soon as the end is reached.
func TestInflateTruncated(t *testing.T) {
	for _, level := range []int{0, 1, 9} {
		packed := deflated(t, []byte(cube), level)
		for n := range len(packed) - 1 { // the last byte may hold no more than filling
			if _, err := io.ReadAll(newInflater(bytes.NewReader(packed[:n]))); err == nil {
				t.Errorf("level %d: cut at %d of %d it ends well", level, n, len(packed))
			}
		}
	}
	boom := iotest.ErrReader(iotest.ErrTimeout)
	if _, err := io.ReadAll(newInflater(boom)); err != iotest.ErrTimeout {
		t.Errorf("error of the source: %v", err)
	}
}

// Broken streams, each of which compress/flate refuses too (checked in sameVerdict).
func TestInflateCorrupt(t *testing.T) {
	for name, text := range map[string]string{
		"block type 3":                      "07",
		"stored length and complement":      "010100000000",
		"distance before the beginning":     "030200",
		"code lengths over-subscribed":      "05e0ffffffffffffffffff",
		"empty":                             "",
		"repeat without a length before it": "0540000000000000010000",
	} {
		data, err := hex.DecodeString(text)
		if err != nil {
			t.Fatal(err)
		}
		t.Run(name, func(t *testing.T) {
			sameVerdict(t, data)
			if _, err := io.ReadAll(newInflater(bytes.NewReader(data))); err == nil {
				t.Error("unpacked without error")
			}
		})
	}
	random := rand.New(rand.NewSource(2))
	for _, data := range inflateSamples() {
		packed := deflated(t, data[:min(len(data), 20_000)], 6)
		for range 40 {
			broken := bytes.Clone(packed)
			for range 1 + random.Intn(3) {
				broken[random.Intn(len(broken))] ^= 1 << random.Intn(8)
			}
			sameVerdict(t, broken)
		}
	}
}

// sameVerdict holds inflater to compress/flate: both give the same bytes, or both an error.
func sameVerdict(t *testing.T, data []byte) {
	t.Helper()
	const most = 4 << 20
	want, wantErr := io.ReadAll(io.LimitReader(flate.NewReader(bytes.NewReader(data)), most))
	got, err := io.ReadAll(io.LimitReader(newInflater(bytes.NewReader(data)), most))
	if (err == nil) != (wantErr == nil) || err == nil && !bytes.Equal(got, want) {
		t.Fatalf("%d bytes %v, compress/flate %d bytes %v, for %x", len(got), err, len(want), wantErr, data[:min(len(data), 200)])
	}
}

// FuzzInflate compares with compress/flate on any bytes.
func FuzzInflate(f *testing.F) {
	for _, data := range inflateSamples() {
		for _, level := range []int{1, 9} {
			f.Add(deflated(f, data[:min(len(data), 3000)], level))
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) { sameVerdict(t, data) })
}
