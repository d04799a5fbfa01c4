package sheet

import (
	"os"
	"testing"
)

// TestWriteForTheEye writes the demo season's sheets into the folder named by SHEET_LOOK, for looking at them.
func TestWriteForTheEye(t *testing.T) {
	dir := os.Getenv("SHEET_LOOK")
	if dir == "" {
		t.Skip("set SHEET_LOOK to a folder to write the demo sheets there")
	}
	everyVariant(t, func(t *testing.T, name, variant string) {
		for _, lang := range []string{"en", "de"} {
			in, images := demo(t, name, variant, lang)
			s := Compose(in)
			base := dir + "/" + name + "-" + variant + "-" + lang
			write := func(ending string, print func(f *os.File) error) {
				f, err := os.Create(base + ending)
				if err != nil {
					t.Fatal(err)
				}
				if err := print(f); err != nil {
					t.Fatal(err)
				}
				f.Close()
			}
			write(".html", func(f *os.File) error { return s.HTML(f, images) })
			write(".a4.pdf", func(f *os.File) error { return s.PDF(f, images, "a4") })
			write(".letter.pdf", func(f *os.File) error { return s.PDF(f, images, "letter") })
			write(".txt", func(f *os.File) error { return s.Text(f) })
		}
	})
}
