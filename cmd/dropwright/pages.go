package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"

	"dropwright/bundle/design"
	"dropwright/bundle/photo"
	"dropwright/bundle/sheet"
	"dropwright/series/calendar"
	"dropwright/series/catalogue"
	"dropwright/series/feed"
	"dropwright/series/ledger"
	"dropwright/series/release"
	"dropwright/series/site/shelf"
)

// pages makes what the readers of a place see, from its index, the ledger and the fixed bundles. The one thing of a
// design's folder that goes in is what its teaser allows.
func (a *app) pages(s *season, cal *calendar.Calendar, r *release.Runner) func(context.Context, release.Index) ([]release.Page, error) {
	return func(ctx context.Context, x release.Index) ([]release.Page, error) {
		zone := cal.Zone()
		in := shelf.Input{Series: string(s.Config.Title.V), Maker: string(s.Config.Maker.Name.V), MakerURL: string(s.Config.Maker.URL.V), Language: string(s.Config.Language.V),
			Accent: string(s.Config.Accent.Or(sheet.Accent)), Audience: x.Audience, Channel: x.Channel, Rehearsal: x.Rehearsal, Zone: zone.Name(), Local: zone.In, Log: r.Ledger.Log}
		for _, c := range s.Config.Channels {
			if string(c.Name.V) == x.Channel {
				in.Base = string(c.URL.V)
			}
		}
		for _, e := range x.Releases {
			one := shelf.Release{Design: e.Design, Revision: e.Revision, Due: e.Due, At: e.At, Objects: e.Objects}
			if e.Withdrawn != nil {
				one.Withdrawn, one.Because = e.Withdrawn.At, e.Withdrawn.Because
			}
			in.Releases = append(in.Releases, one)
		}
		in.Coming = a.coming(s, cal, r.Ledger.Log, x)
		in.Open = func(ctx context.Context, e shelf.Release, o ledger.Object) (shelf.File, error) {
			return openFixed(ctx, r, x.Channel, e, o)
		}
		made, err := shelf.Pages(ctx, in)
		if err != nil {
			return nil, err
		}
		var out []release.Page
		for _, p := range made {
			out = append(out, release.Page{Name: p.Name, Data: p.Data, Type: p.Type})
		}
		return out, nil
	}
}

// openFixed opens a file of a release by its hash: from the store, or, where the store was lost, from the place, whose
// copy is then kept again.
func openFixed(ctx context.Context, r *release.Runner, channel string, e shelf.Release, o ledger.Object) (shelf.File, error) {
	content, err := r.Store.Content(ctx, o.Name, o.SHA256, o.Bytes)
	var lost *release.Lost
	if errors.As(err, &lost) {
		for _, c := range r.Channels {
			if c.Name != channel || c.Post != nil {
				continue
			}
			if _, _, err := r.Store.Put(ctx, func(w io.Writer) error {
				from, err := c.Target.Open(ctx, path.Join(e.Design, e.Revision, o.Name))
				if err != nil {
					return err
				}
				defer from.Close()
				_, err = io.Copy(w, io.LimitReader(from, o.Bytes+1))
				return err
			}); err != nil {
				return nil, errors.Join(lost, err)
			}
		}
		content, err = r.Store.Content(ctx, o.Name, o.SHA256, o.Bytes)
	}
	if err != nil {
		return nil, err
	}
	f, err := content.Open()
	if err != nil {
		return nil, err
	}
	file, ok := f.(shelf.File)
	if !ok {
		f.Close()
		return nil, fmt.Errorf("%s cannot be read at any place", o.Name)
	}
	return file, nil
}

// coming is what a place's readers may know of weeks whose designs have not come there: of a design that has a folder
// the week and its day, and what its teaser allows. Of days that were promised and taken back it is that they are.
func (a *app) coming(s *season, cal *calendar.Calendar, log *ledger.Log, x release.Index) []shelf.Coming {
	here := map[string]bool{}
	latest := feed.Opened(log)
	for _, e := range x.Releases {
		here[e.Design] = true
		if e.At.After(latest) {
			latest = e.At
		}
	}
	var out []shelf.Coming
	for _, slot := range cal.Slots() {
		drop, ok := slot.Drop(x.Audience)
		if slot.Design == "" || !ok || here[slot.Design] || !s.Has(slot.Design) {
			continue
		}
		here[slot.Design] = true
		c := shelf.ComingOf(log, x.Audience, slot.Week, slot.Design, drop.UTC)
		if c.Tentative && !c.Due.After(latest) {
			continue // it is late, and nobody was promised it: a day that is over tells nothing
		}
		c.Title, c.Picture = teased(s, slot.Design)
		out = append(out, c)
	}
	for _, d := range feed.Drops(log) {
		if d.Audience == x.Audience && d.Cancelled && !here[d.Design] {
			out = append(out, shelf.ComingOf(log, x.Audience, d.Week, d.Design, d.Due))
		}
	}
	slices.SortStableFunc(out, func(a, b shelf.Coming) int { return a.Due.Compare(b.Due) })
	return out
}

// teased is what a design's teaser lets its readers know before its day: nothing, its title, or a picture too. What
// cannot be read tells nothing. The manifest is decoded only where it has the word at all, since a season is looked
// at whenever something goes out.
func teased(s *season, name string) (title string, picture []byte) {
	manifest, err := fs.ReadFile(s.FS, path.Join(catalogue.DesignsDir, name, catalogue.DesignFile))
	if err != nil || !bytes.Contains(manifest, []byte("teaser")) {
		return "", nil
	}
	e, err := s.Load(name)
	if err != nil || e.Design == nil {
		return "", nil
	}
	switch e.Design.Teaser.V {
	case "title":
		return string(e.Design.Title.V), nil
	case "picture":
		return string(e.Design.Title.V), cleanCover(e.FS, e.Design)
	}
	return "", nil
}

// teaserSide is the longest side of a teaser's picture in pixels.
const teaserSide = 640

// cleanCover is a small copy of the design's cover without what the camera wrote into it; nil where it has none.
func cleanCover(folder fs.FS, d *design.Design) []byte {
	if len(d.Photos) == 0 {
		return nil
	}
	p := d.Photos[0]
	for _, x := range d.Photos {
		if bool(x.Cover.V) {
			p = x
			break
		}
	}
	raw, err := fs.ReadFile(folder, string(p.File.V))
	if err != nil {
		return nil
	}
	data, _, err := photo.Clean(raw, photo.Options{MaxSide: teaserSide})
	if err != nil {
		return nil
	}
	return data
}
