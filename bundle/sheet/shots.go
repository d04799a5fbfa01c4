package sheet

import (
	"slices"

	"dropwright/bundle/design"
)

// Shots is a one-page list of the pictures still to take, for every variant: a cover, each variant, each part
// that no photo shows, each step without a picture, and files that are named and cannot be used. It prints like
// a sheet; without sections nothing is missing. Input needs Design, Facts and House.
func Shots(in Input) *Sheet {
	if in.Variant == "" {
		in.Variant = in.Design.VariantNames()[0]
	}
	c := newComposer(in)
	d := in.Design
	s := c.out
	*s = Sheet{Design: d.Folder, Title: c.say("shots title", d.Title.V), Summary: c.say("shots summary"), Revision: d.Revision().String(), Date: d.Dated().String(),
		Dated: c.date(d.Dated()), Variant: in.Variant, Maker: string(in.House.Maker.Name.V), Language: codes[c.tongue], Accent: string(in.House.Accent.Or(Accent)), Builds: 1}
	list := func(id string, items []string) {
		if len(items) == 0 {
			return
		}
		b := Block{Kind: Checks}
		for _, x := range items {
			b.Items = append(b.Items, []Block{text(Para, x)})
		}
		c.section(id, []Block{b})
	}
	list("shots-photos", c.missingPhotos())
	list("shots-steps", c.missingStepPictures())
	list("shots-broken", c.brokenPictures())
	if len(s.Sections) == 0 {
		s.Head = []Block{text(Para, c.say("shots none"))}
	}
	return s
}

func (c *composer) missingPhotos() []string {
	d := c.Design
	var out []string
	cover := slices.ContainsFunc(d.Photos, func(p design.Photo) bool { return bool(p.Cover.V) })
	if !cover {
		out = append(out, c.say("shots cover"))
	}
	for _, v := range d.VariantNames() {
		if v == design.Plain || slices.ContainsFunc(d.Photos, func(p design.Photo) bool { return p.Only.Has(v) }) {
			continue
		}
		out = append(out, c.say("shots variant", v))
	}
	for _, p := range d.Parts {
		if p.Role.V == "reference" {
			continue
		}
		shown := slices.ContainsFunc(d.Photos, func(x design.Photo) bool {
			return slices.ContainsFunc(x.Shows, func(n design.Val[design.Name]) bool { return n.V == p.Name.V })
		})
		if !shown {
			out = append(out, c.say("shots part", c.partName(p)))
		}
	}
	return out
}

func (c *composer) missingStepPictures() []string {
	var out []string
	for i, s := range c.Design.Assembly {
		if !s.Picture.File.Set() {
			out = append(out, c.say("shots step", i+1, s.Title.V))
		}
	}
	return out
}

// brokenPictures are those that the manifest names and that are not there, cannot be read, or have no
// alternative text.
func (c *composer) brokenPictures() []string {
	var out []string
	look := func(file, alt string) {
		if p, ok := c.Facts.Photo(file); ok && p.Problem != "" {
			out = append(out, c.say("shots broken", file, p.Problem))
		} else if f, ok := c.Facts.File(file); ok && f.Problem != "" {
			out = append(out, c.say("shots broken", file, f.Problem))
		}
		if alt == "" {
			out = append(out, c.say("shots alt", file))
		}
	}
	for _, p := range c.Design.Photos {
		look(string(p.File.V), string(p.Alt.V))
	}
	for _, s := range c.Design.Assembly {
		if s.Picture.File.Set() {
			look(string(s.Picture.File.V), string(s.Picture.Alt.V))
		}
	}
	return out
}
