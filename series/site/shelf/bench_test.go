package shelf

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"strings"
	"testing"
	"time"

	"dropwright/bundle/archive"
	"dropwright/series/ledger"
)

// called gives a bundle another design's name.
func called(b *testing.B, zip []byte, design string) []byte {
	b.Helper()
	z, err := archive.Read(bytes.NewReader(zip), int64(len(zip)))
	if err != nil {
		b.Fatal(err)
	}
	var entries []archive.Entry
	for _, p := range z.Paths() {
		if p == archive.SumsName {
			continue
		}
		data, err := z.ReadFile(p, maxCard)
		if err != nil {
			b.Fatal(err)
		}
		if p == "bundle.json" {
			data = bytes.Replace(data, []byte(`"design": "soil-stake"`), []byte(`"design": "`+design+`"`), 1)
		}
		entries = append(entries, archive.Entry{Path: p, Data: data})
	}
	var out bytes.Buffer
	if _, err := archive.Write(b.Context(), &out, entries, archive.Options{Top: design, Time: day1}); err != nil {
		b.Fatal(err)
	}
	return out.Bytes()
}

// BenchmarkPages makes the pages of a year: 52 designs, each corrected once, so that 52 comparisons are among it. That
// is what a drop of the last week costs.
func BenchmarkPages(b *testing.B) {
	in := place(b)
	store := map[string][]byte{}
	text, _ := object(b, "soil-stake 1.0.0", "announcement.txt")
	_, store[text.SHA256] = object(b, "soil-stake 1.0.0", "")
	in.Releases = nil
	for week := range 52 {
		name := fmt.Sprintf("stake-%02d", week+1)
		for n, revision := range []string{"1.0.0", "1.0.1"} {
			_, zip := object(b, "soil-stake-"+revision+"-public.zip", "")
			data := called(b, zip, name)
			sum := sha256.Sum256(data)
			o := ledger.Object{Name: strings.Join([]string{name, revision, "public.zip"}, "-"), SHA256: hex.EncodeToString(sum[:]), Bytes: int64(len(data))}
			store[o.SHA256] = data
			in.Releases = append(in.Releases, Release{Design: name, Revision: revision, At: day1.Add(time.Duration(7*week+n) * 24 * time.Hour), Objects: []ledger.Object{o, text}})
		}
	}
	in.Open = func(_ context.Context, _ Release, o ledger.Object) (File, error) {
		if data, ok := store[o.SHA256]; ok {
			return memFile{bytes.NewReader(data), size{o.Name, o.Bytes}}, nil
		}
		return nil, fs.ErrNotExist
	}
	b.ResetTimer()
	n, total := 0, 0
	for b.Loop() {
		pages, err := Pages(b.Context(), in)
		if err != nil {
			b.Fatal(err)
		}
		n, total = len(pages), 0
		for _, p := range pages {
			total += len(p.Data)
		}
	}
	b.ReportMetric(float64(n), "pages")
	b.ReportMetric(float64(total)/1e6, "MB")
}
