package sheet

import (
	"slices"

	"dropwright/bundle/design"
)

// Shots is a one-page list of the pictures still to take, for every variant: a cover, each variant, each part
// that no photo shows, each step without a picture, and files that are named and cannot be used. A step for which
// StepImage has a drawing is listed only where a photo shows more: where a board, a bought part or a sub-assembly
// goes. It prints like a sheet; without sections nothing is missing. Input needs Design, Facts and House.
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
	steps, drawn := c.missingStepPictures()
	list("shots-steps", steps)
	list("shots-broken", c.brokenPictures())
	if len(s.Sections) == 0 {
		s.Head = []Block{text(Para, c.say("shots none"))}
	}
	if len(drawn) > 0 {
		s.Head = append(s.Head, text(Small, c.say("shots drawn", c.stepList(drawn))))
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

// missingStepPictures lists the steps that want a photo, and gives the numbers of those whose drawing is enough.
// Steps are numbered as in the manifest, for all variants.
func (c *composer) missingStepPictures() (missing []string, drawn []int) {
	for i, s := range c.Design.Assembly {
		if s.Picture.File.Set() {
			continue
		}
		if c.StepImage == nil || c.StepImage(i) == nil {
			missing = append(missing, c.say("shots step", i+1, s.Title.V))
			continue
		}
		if things := c.unplaced(i); len(things) > 0 {
			missing = append(missing, c.say("shots useful", i+1, s.Title.V, c.list(things)))
			continue
		}
		drawn = append(drawn, i+1)
	}
	return missing, drawn
}

// unplaced are the things that a step takes in any variant and that no drawing can place: boards, bought parts and
// what an earlier step made.
func (c *composer) unplaced(step int) []string {
	var out []string
	for _, v := range c.Design.VariantNames() {
		items, _ := c.Design.Tally(v)
		for _, it := range items {
			if it.Kind != design.BoardItem && it.Kind != design.BoughtItem && it.Kind != design.MadeItem || !usedIn(it, step) || slices.Contains(out, it.Name) {
				continue
			}
			out = append(out, it.Name)
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
