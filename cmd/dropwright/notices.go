package main

import (
	"errors"
	"fmt"
	"io"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"dropwright/bundle"
	"dropwright/bundle/archive"
	"dropwright/bundle/compare"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/sheet"
	"dropwright/series/disk"
	"dropwright/series/ledger"
	"dropwright/series/notice"
	"dropwright/series/release"
	"dropwright/series/schedule"
)

// The notices that announce writes.
const (
	noticeCorrection = "correction"
	noticeWithdrawal = "withdrawal"
)

// notice is the text that follows a drop: what a correction means for who has printed already, or that a revision is
// withdrawn.
func (a *app) notice(words []string, kind string) error {
	if kind != noticeCorrection && kind != noticeWithdrawal {
		return usage("write --notice correction or --notice withdrawal", "--notice: expected correction or withdrawal, found %q", kind)
	}
	if len(words) != 2 {
		return usage("`dropwright announce vent-minder early --notice "+kind+"`", "name a design and an audience")
	}
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	name, err := a.oneDesign(s, words[:1])
	if err != nil {
		return err
	}
	audience, err := a.audience(s, words[1])
	if err != nil {
		return err
	}
	e, err := s.Load(name)
	if err != nil {
		return machine("check that you may read the folder", "%w", err)
	}
	if e.Design == nil || finding.Count(e.Findings, finding.Error) > 0 {
		return unreadable("dropwright check "+name, "the manifest of %s cannot be read as meant", name)
	}
	log, err := a.readLedger(s, onlyRehearsal(s))
	if err != nil {
		return err
	}
	out := outTo(log, name, audience)
	if len(out) == 0 {
		return refused("dropwright announce "+name+" "+audience+" writes the text of the drop itself", "nothing of %s has gone out to the %s audience: there is nothing to put right", name, audience)
	}
	link := string(e.Design.Page.V)
	for _, c := range s.Config.Channels {
		if link == "" && c.URL.Set() && string(c.Audience.V) == audience {
			link = strings.TrimSuffix(string(c.URL.V), "/") + "/" + name + "/index.html"
		}
	}
	if kind == noticeWithdrawal {
		return a.withdrawalNotice(s, e.Design, log, out, audience, link)
	}
	return a.correctionNotice(s, e.Design, log, out, audience, link)
}

// outTo are the revisions of a design that an audience got, the newest first.
func outTo(log *ledger.Log, name, audience string) []string {
	var out []string
	for _, d := range log.Deliveries() {
		i := d.Intent
		if i.Design == name && i.Audience == audience && (d.Outcome == ledger.Done || d.Outcome == ledger.HandedOver) && !slices.Contains(out, i.Revision) {
			out = append(out, i.Revision)
		}
	}
	slices.SortFunc(out, func(x, y string) int {
		if schedule.Newer(x, y) {
			return -1
		}
		return 1
	})
	return out
}

func (a *app) withdrawalNotice(s *season, d *design.Design, log *ledger.Log, out []string, audience, link string) error {
	for _, revision := range out {
		w, gone := log.Withdrawn(d.Folder, revision)
		if !gone {
			continue
		}
		n := notice.Withdrawal{Language: string(s.Config.Language.V), Title: string(d.Title.V), Revision: revision, Because: w.Because, Link: link}
		for _, better := range slices.Backward(out) {
			if _, gone := log.Withdrawn(d.Folder, better); !gone && schedule.Newer(better, revision) {
				n.Better = better
			}
		}
		return a.printAnnouncement(n.Text())
	}
	return refused("dropwright withdraw "+d.Folder+" REVISION --because \"…\" withdraws one", "no revision of %s that went to the %s audience is withdrawn", d.Folder, audience)
}

// correctionNotice compares what an audience has with what takes its place: the present revision, if it has not gone
// out yet, or the last two that did.
func (a *app) correctionNotice(s *season, d *design.Design, log *ledger.Log, out []string, audience, link string) error {
	from, to, coming := out[0], d.Revision().String(), true
	if !schedule.Newer(to, from) {
		if len(out) < 2 {
			return refused("dropwright revise "+d.Folder+" \"what changed\" makes one", "the %s audience has %s of %s, and there is no correction of it", audience, from, d.Folder)
		}
		from, to, coming = out[1], out[0], false
	}
	was, err := a.asItWentOut(s, log, d.Folder, from, audience)
	if err != nil {
		return err
	}
	var is *bundle.State
	if coming {
		is, err = a.designState(s, d.Folder, "")
	} else {
		is, err = a.asItWentOut(s, log, d.Folder, to, audience)
	}
	if err != nil {
		return err
	}
	diff, err := bundle.Changes(was, is)
	if err != nil {
		return unreadable("dropwright compare "+d.Folder+"@"+from+" says more", "comparing %s with %s: %w", from, to, err)
	}
	return a.printAnnouncement(correctionText(s, d, from, to, diff, link))
}

func correctionText(s *season, d *design.Design, from, to string, diff compare.Diff, link string) *sheet.Announcement {
	c := notice.Correction{Language: string(s.Config.Language.V), Title: string(d.Title.V), From: from, To: to, Diff: diff, Variants: map[string]string{}, Link: link}
	for _, v := range d.VariantNames() {
		x, _ := d.Variant(v)
		c.Variants[v] = string(x.Title.V)
	}
	for _, x := range d.Changes {
		if r := x.Revision.V.String(); schedule.Newer(r, from) && !schedule.Newer(r, to) {
			c.Texts = append(c.Texts, string(x.Text.V))
		}
	}
	return c.Text()
}

// asItWentOut is a revision by the bundles that an audience got, from the store; where that has lost one, as history
// keeps the revision.
func (a *app) asItWentOut(s *season, log *ledger.Log, name, revision, audience string) (*bundle.State, error) {
	fixed, _ := log.BundleOf(name, revision, schedule.BundleFor(audience))
	store := release.OpenStore(disk.OS(), filepath.Join(s.dir, release.StoreName))
	var states []*bundle.State
	for _, o := range fixed.Objects {
		if path.Ext(o.Name) != ".zip" {
			continue
		}
		all, err := a.storedBundle(store, o)
		var lost *release.Lost
		if errors.As(err, &lost) {
			return a.designState(s, name, revision)
		} else if err != nil {
			return nil, machine("check the folder "+release.StoreName, "reading %s: %w", o.Name, err)
		}
		one, err := readState(all, o.Name, name+" "+revision)
		if err != nil {
			return nil, err
		}
		states = append(states, one)
	}
	if len(states) == 0 {
		return a.designState(s, name, revision)
	}
	return bundle.Join(name+" "+revision, states), nil
}

// storedBundle reads what is compared of a bundle in the store, which holds each by its hash.
func (a *app) storedBundle(store *release.Store, o ledger.Object) (memFS, error) {
	content, err := store.Content(a.ctx, o.Name, o.SHA256, o.Bytes)
	if err != nil {
		return nil, err
	}
	f, err := content.Open()
	if err != nil {
		return nil, err
	}
	defer f.Close()
	at, ok := f.(io.ReaderAt)
	if !ok {
		return nil, fmt.Errorf("%s cannot be read at any place", o.Name)
	}
	z, err := archive.Read(at, o.Bytes)
	if err != nil {
		return nil, err
	}
	all := memFS{}
	for _, p := range z.Paths() {
		if p == "bundle.json" || strings.HasPrefix(p, "meshes/") {
			if all[p], err = z.ReadFile(p, archive.MaxBytes); err != nil {
				return nil, err
			}
		}
	}
	return all, nil
}
