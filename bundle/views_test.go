package bundle_test

import (
	"bytes"
	"image"
	"image/png"
	"strings"
	"testing"

	"dropwright/bundle/board"
	"dropwright/bundle/design"
	"dropwright/bundle/sheet"
	"dropwright/examples"
	"dropwright/series/catalogue"
)

// drawnPictures are the drawn pictures of a sheet's tree, by path.
func drawnPictures(s *sheet.Sheet) map[string]sheet.Picture {
	out := map[string]sheet.Picture{}
	var walk func([]sheet.Block)
	walk = func(list []sheet.Block) {
		for _, b := range list {
			for _, p := range b.Pictures {
				if strings.HasPrefix(p.File, "render/") {
					out[p.File] = p
				}
			}
			if b.Table != nil {
				for _, r := range b.Table.Rows {
					for _, c := range r.Cells {
						if _, have := out[c.Picture]; !have && strings.HasPrefix(c.Picture, "render/") {
							out[c.Picture] = sheet.Picture{File: c.Picture}
						}
					}
				}
			}
			walk(b.Blocks)
		}
	}
	walk(s.Head)
	for _, x := range s.Sections {
		walk(x.Blocks)
	}
	return out
}

// TestDrawnPictures: every printed part of every demo design has its picture, each can be had, on white, small, and
// the same twice.
func TestDrawnPictures(t *testing.T) {
	s, err := catalogue.Open(examples.Season, "season", board.Builtin())
	if err != nil {
		t.Fatal(err)
	}
	apart, bed, steps := 0, 0, 0
	for _, name := range []string{"rain-tipper", "seed-dryer", "soil-stake", "vent-minder"} {
		w, err := examined(s, name)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range w.Design.VariantNames() {
			x := w.Illustrated(v, "public", nil)
			list := drawnPictures(x)
			for _, p := range w.Design.PartsOf(v) {
				drawn, mirrored := p.CopiesOf(v)
				for kind, n := range map[string]int{"part": drawn, "mirrored": mirrored} {
					path := "render/public/" + v + "/" + kind + "/" + string(p.Name.V) + ".png"
					if _, ok := list[path]; ok != (n > 0) {
						t.Errorf("%s %s: picture of %d %s %s: %v", name, v, n, kind, p.Name.V, ok)
					}
				}
			}
			images, total := w.Images(), 0
			seen := map[string]string{}
			for path, p := range list {
				data, mime, err := images(path)
				if err != nil || mime != "image/png" {
					t.Errorf("%s: %s %v", path, mime, err)
					continue
				}
				again, _, err := w.Image(path)
				if err != nil || !bytes.Equal(data, again) {
					t.Errorf("%s: another picture the second time: %v", path, err)
				}
				if other := seen[string(data)]; other != "" {
					t.Errorf("%s looks like %s", path, other)
				}
				seen[string(data)] = path
				total += len(data)
				img, err := png.Decode(bytes.NewReader(data))
				if err != nil {
					t.Errorf("%s: %v", path, err)
					continue
				}
				if r, g, b, a := img.At(0, 0).RGBA(); r+g+b+a != 4*0xffff {
					t.Errorf("%s: its corner is not white", path)
				}
				if share := inked(img); share < 0.03 || share > 0.9 {
					t.Errorf("%s: %.2f of it is drawn on", path, share)
				}
				if strings.Contains(path, "/apart/") || strings.Contains(path, "/step/") {
					if p.Alt == "" || !strings.Contains(p.Alt, "1\u00a0") {
						t.Errorf("%s: alternative text %q does not say what the numbers mean", path, p.Alt)
					}
				}
				apart += strings.Count(path, "/apart/")
				bed += strings.Count(path, "/bed/")
				steps += strings.Count(path, "/step/")
			}
			if total > 150_000 {
				t.Errorf("%s %s: %d bytes of drawn pictures", name, v, total)
			}
			if text := drawnPictures(w.Sheet(v, "public", nil)); len(text) > 0 {
				t.Errorf("%s %s: the plain sheet has drawn pictures: %v", name, v, text)
			}
		}
	}
	// rain-tipper and seed-dryer have places for all parts; of the steps without a picture, one of rain-tipper's adds a
	// part.
	// Both variants of vent-minder have several parts and no places.
	if apart != 2 || bed != 2 || steps != 1 {
		t.Errorf("%d views of an assembly, %d of a bed, %d of steps; want 2, 2 and 1", apart, bed, steps)
	}
}

func inked(img image.Image) float64 {
	n := 0
	b := img.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if r, g, b, _ := img.At(x, y).RGBA(); r+g+b != 3*0xffff {
				n++
			}
		}
	}
	return float64(n) / float64(b.Dx()*b.Dy())
}

// TestDrawnRefused: a path that is no picture of the design gives an error, and what lies in a folder of the same name
// is a file like any.
func TestDrawnRefused(t *testing.T) {
	s, err := catalogue.Open(examples.Season, "season", board.Builtin())
	if err != nil {
		t.Fatal(err)
	}
	w, err := examined(s, "soil-stake")
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"render/public/plain/part/none.png", "render/public/plain/step/9.png", "render/public/plain/step/-1.png", "render/public/plain/step/x.png",
		"render/public/plain/apart/all.png", "render/public/plain/odd/soil-stake.png", "render/public/none/part/x.png", "render/x.png"} {
		if data, _, err := w.Image(path); err == nil {
			t.Errorf("%s gives %d bytes", path, len(data))
		}
	}
}

// TestStepsDrawn takes the pictures out of a design whose parts have places: every step that adds a printed part or a
// fastener is then drawn, and says what it adds.
func TestStepsDrawn(t *testing.T) {
	s, err := catalogue.Open(examples.Season, "season", board.Builtin())
	if err != nil {
		t.Fatal(err)
	}
	w, err := examined(s, "rain-tipper")
	if err != nil {
		t.Fatal(err)
	}
	for i := range w.Design.Assembly {
		w.Design.Assembly[i].Picture = design.Picture{}
	}
	got := drawnPictures(w.Illustrated("plain", "public", nil))
	want := map[int]string{0: "1 base, 2 magnet (3 ×)", 1: "1 foot (3 ×), 2 foot-screw (3 ×)", 2: "1 bucket, 2 magnet (2 ×)", 5: "1 hood, 2 magnet (3 ×)"}
	images := w.Images()
	for i, step := range w.Design.Assembly {
		path := "render/public/plain/step/" + string(rune('0'+i)) + ".png"
		p, ok := got[path]
		if text := strings.ReplaceAll(p.Caption, "\u00a0", " "); text != want[i] {
			t.Errorf("step %d, %s: %q, want %q", i+1, step.Title.V, text, want[i])
		}
		if ok {
			if _, _, err := images(path); err != nil {
				t.Error(err)
			}
		}
	}
}
