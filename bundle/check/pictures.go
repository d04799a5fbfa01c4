package check

import (
	"fmt"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
)

// pictures: there is a photo and a story, each picture can be decoded and has an alternative text.
func pictures(in *Input, r *report) {
	d := in.Design
	if len(d.Photos) == 0 {
		r.add("photo-missing", firstPart(d), "", "no photo shows the finished thing", "add photos: [{file: photos/front.jpg, alt: …, cover: true}]")
	}
	if !d.Story.Set() {
		r.add("story-missing", d.Summary.At, "", "there is no story for the announcement", "write story.md and add story: story.md")
	}
	for _, p := range d.Photos {
		picture(in, r, p.File, p.Alt, p.At)
	}
	for _, s := range d.Assembly {
		if s.Picture.Where.Known() {
			picture(in, r, s.Picture.File, s.Picture.Alt, s.Picture.Where)
		}
	}
}

func picture(in *Input, r *report, file design.Val[design.Path], alt design.Val[design.Text], at finding.Place) {
	if file.Set() && !alt.Set() {
		r.add("alt-missing", at, "", fmt.Sprintf("%s has no alternative text", file.V), "add alt: with one sentence that says what it shows")
	}
	if f, ok := in.Facts.Photo(string(file.V)); ok && f.Problem != "" {
		hint := f.Hint
		if hint == "" {
			hint = "export it again as JPEG or PNG"
		}
		r.add("photo-unreadable", file.At, "", fmt.Sprintf("%s: %s", file.V, f.Problem), hint)
	}
}

// firstPart is where the design begins to be a thing: its first part, for what is missing as a whole.
func firstPart(d *design.Design) finding.Place {
	if len(d.Parts) > 0 && d.Parts[0].Name.Set() {
		return d.Parts[0].Name.At
	}
	return d.At
}
