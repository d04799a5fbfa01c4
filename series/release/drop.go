package release

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"
	"time"

	"dropwright/series/calendar"
	"dropwright/series/ledger"
	"dropwright/series/schedule"
	"dropwright/series/target"
)

// AnnouncementName is the file of a bundle that is pasted into a post instead of being attached.
const AnnouncementName = "announcement.txt"

// drop sends one revision to one place.
func (r *Runner) drop(ctx context.Context, a schedule.Action, c *Channel) error {
	if err := r.Store.Sweep(); err != nil {
		return err
	}
	switch _, ok := r.Ledger.BundleOf(a.Design, a.Revision, a.Fixed); {
	case a.Leads && a.Intent == 0:
		if err := r.fix(ctx, a); err != nil {
			return err
		}
	case !ok:
		if err := r.refix(ctx, a); err != nil {
			return err
		}
	}
	fixed, _ := r.Ledger.BundleOf(a.Design, a.Revision, a.Fixed)
	if err := target.Claim(ctx, c.Target, r.marker(c)); err != nil {
		return err
	}
	if err := r.guarded(ctx, c); err != nil {
		return err
	}
	if err := c.Target.Sweep(ctx); err != nil {
		return err
	}
	if err := r.sound(ctx, c); err != nil {
		return err
	}
	files, err := r.contents(ctx, fixed)
	if err != nil {
		return err
	}
	fixed, _ = r.Ledger.BundleOf(a.Design, a.Revision, a.Fixed) // it may have been packed again
	if err := r.intime(a); err != nil {                         // packing takes its time, and clocks jump
		return err
	}
	intent, open := r.Ledger.Entry(a.Intent)
	if open && !slices.Equal(intent.Objects, fixed.Objects) {
		open = false
		if _, err := r.record(ledger.Record{Kind: ledger.Result, Of: intent.Seq, Outcome: ledger.Abandoned, Design: a.Design, Revision: a.Revision, Audience: a.Audience, Channel: a.Channel, Because: "its bundles were packed again"}); err != nil {
			return err
		}
	}
	if !open {
		// The time that was just found to be late enough: asked again, the clock might say something else.
		intent, err = r.record(ledger.Record{Kind: ledger.Intent, At: r.latest, Design: a.Design, Revision: a.Revision, Audience: a.Audience, Channel: a.Channel, Due: a.Due, Objects: fixed.Objects, Digest: fixed.Digest})
		if err != nil {
			return err
		}
	}
	outcome := ledger.Done
	if c.Post != nil {
		outcome = ledger.HandedOver
		err = r.layOut(ctx, a, c, files)
	} else {
		err = send(ctx, c.Target, a.Design, a.Revision, files)
	}
	if err != nil {
		return err
	}
	if err := r.writeIndex(ctx, c, intent.Seq); err != nil {
		return err
	}
	_, err = r.record(ledger.Record{Kind: ledger.Result, Of: intent.Seq, Outcome: outcome, Design: a.Design, Revision: a.Revision, Audience: a.Audience, Channel: a.Channel})
	return err
}

// guarded makes sure that a place of paying readers keeps strangers out, as far as that can be asked. The marker,
// which is there by now and tells nothing, is what a stranger would be shown.
func (r *Runner) guarded(ctx context.Context, c *Channel) error {
	place, ok := c.Target.(target.Guarded)
	if !ok || c.Audience == calendar.Public || r.closed[c.Name] {
		return nil
	}
	open, err := place.Exposed(ctx, target.MarkerName)
	if err != nil {
		return err
	}
	if open {
		return refuse("take public reading from the bucket at the store (and listing too); readers then come by links: dropwright release links", "%s is for the %s audience, and anybody can read it without a key", c.Target, c.Audience)
	}
	if r.closed == nil {
		r.closed = map[string]bool{}
	}
	r.closed[c.Name] = true
	return nil
}

// ObjectName is where a file of a drop lies at a place.
func ObjectName(design, revision, file string) string { return objectName(design, revision, file) }

func objectName(design, revision, file string) string { return path.Join(design, revision, file) }

// SumsName is the list of checksums of a drop.
const SumsName = "SHA256SUMS"

// sums is the list of checksums of a drop, as sha256sum -c reads it.
func sums(objects []ledger.Object) []byte {
	var lines []string
	for _, o := range objects {
		lines = append(lines, fmt.Sprintf("%s  %s\n", o.SHA256, o.Name))
	}
	slices.SortFunc(lines, func(a, b string) int { return strings.Compare(a[66:], b[66:]) })
	return []byte(strings.Join(lines, ""))
}

// send creates the files of a drop, the list of checksums last.
func send(ctx context.Context, t target.Target, design, revision string, files []File) error {
	var objects []ledger.Object
	for _, f := range files {
		if err := t.Create(ctx, objectName(design, revision, f.Name), f.Content); err != nil {
			return err
		}
		objects = append(objects, ledger.Object{Name: f.Name, SHA256: f.Content.SHA256, Bytes: f.Content.Bytes})
	}
	return t.Create(ctx, objectName(design, revision, SumsName), target.Text(sums(objects)))
}

// layOut prepares a drop for a person to post.
func (r *Runner) layOut(ctx context.Context, a schedule.Action, c *Channel, files []File) error {
	var attach []File
	var texts []Text
	for _, f := range files {
		if path.Base(f.Name) != AnnouncementName {
			attach = append(attach, f)
			continue
		}
		rc, err := f.Content.Open()
		if err != nil {
			return err
		}
		data := make([]byte, f.Content.Bytes)
		_, err = io.ReadFull(rc, data)
		if err := errors.Join(err, rc.Close()); err != nil {
			return fmt.Errorf("reading %s: %w", f.Name, err)
		}
		texts = append(texts, Text{AnnouncementName, data})
	}
	title := fmt.Sprintf("%s %s for the %s audience, due %s", a.Design, a.Revision, a.Audience, stamp(a.Due))
	ticks := []string{
		fmt.Sprintf("post it, not before %s", stamp(a.Due)),
		fmt.Sprintf("say so here: dropwright release confirm %s %s --at TIME --link URL", a.Design, a.Audience),
	}
	return c.Post.LayOut(ctx, postName(a.Design, a.Revision, a.Audience), title, attach, texts, ticks)
}

func postName(design, revision, audience string) string {
	return design + "-" + revision + "-" + audience
}

// mark tells a place that a revision of it was withdrawn.
func (r *Runner) mark(ctx context.Context, a schedule.Action, c *Channel) error {
	if err := target.Claim(ctx, c.Target, r.marker(c)); err != nil {
		return err
	}
	if err := c.Target.Sweep(ctx); err != nil {
		return err
	}
	if err := r.sound(ctx, c); err != nil {
		return err
	}
	if c.Post != nil {
		e, _ := r.Ledger.Entry(a.Of)
		text := fmt.Sprintf("%s %s is withdrawn: %s\nPlease do not build it. Its files stay where they are, so that everybody can see what was meant.\n", a.Design, a.Revision, e.Because)
		err := c.Post.LayOut(ctx, postName(a.Design, a.Revision, a.Audience)+"-withdrawn", fmt.Sprintf("%s %s is withdrawn: say so first on its page", a.Design, a.Revision), nil,
			[]Text{{"withdrawn.txt", []byte(text)}}, []string{fmt.Sprintf("put the text on top of the post of %s %s", a.Design, a.Revision)})
		if err != nil {
			return err
		}
	}
	if err := r.writeIndex(ctx, c, 0); err != nil {
		return err
	}
	_, err := r.record(ledger.Record{Kind: ledger.Result, Of: a.Of, Outcome: ledger.Done, Design: a.Design, Revision: a.Revision, Audience: a.Audience, Channel: a.Channel, Because: "marked as withdrawn"})
	return err
}

// Withdraw marks a revision that went out as one not to be built. Its files stay. Run then tells the places.
// Again is success.
func (r *Runner) Withdraw(design, revision, because string) error {
	if _, ok := r.Ledger.Withdrawn(design, revision); ok {
		return nil
	}
	out := slices.ContainsFunc(r.Ledger.Deliveries(), func(d ledger.Delivery) bool {
		return d.Intent.Design == design && d.Intent.Revision == revision && (d.Outcome == ledger.Done || d.Outcome == ledger.HandedOver)
	})
	if !out {
		return refuse("the ledger lists what went out: dropwright ledger "+design, "%s %s never went out", design, revision)
	}
	_, err := r.record(ledger.Record{Kind: ledger.Withdraw, Design: design, Revision: revision, Because: because})
	return err
}

// Confirm closes drops that were posted by hand at a time. Without a channel it must be plain which one is
// meant. Again is success.
func (r *Runner) Confirm(design, audience, channel string, when time.Time, link string) (ledger.Delivery, error) {
	var found []ledger.Delivery
	for _, d := range r.Ledger.Deliveries() {
		if d.Intent.Design == design && d.Intent.Audience == audience && (channel == "" || d.Intent.Channel == channel) && d.Outcome != ledger.Abandoned && d.Outcome != "" {
			found = append(found, d)
		}
	}
	if len(found) == 0 {
		return ledger.Delivery{}, refuse("dropwright release lists what is laid out", "nothing of %s is laid out for the %s audience", design, audience)
	}
	newest := found[0]
	for _, d := range found[1:] {
		if schedule.Newer(d.Intent.Revision, newest.Intent.Revision) {
			newest = d
		}
	}
	for _, d := range found {
		if d.Intent.Revision == newest.Intent.Revision && d.Intent.Channel != newest.Intent.Channel {
			return newest, refuse("choose with --channel", "%s %s is laid out for %s and for %s", design, newest.Intent.Revision, newest.Intent.Channel, d.Intent.Channel)
		}
	}
	if newest.Outcome == ledger.Done {
		return newest, nil
	}
	if when.After(r.Now()) {
		return newest, refuse("confirm it when it is posted", "%s is still to come", stamp(when))
	}
	switch {
	case when.Before(newest.At): // of the laying out
		r.Say("posted %s, though it was laid out only %s: the ledger keeps both; if the time is wrong, look at its zone (Z is UTC)", stamp(when), stamp(newest.At))
	case when.Before(newest.Intent.Due):
		r.Say("it was posted %s, before its time %s: the ledger keeps both", stamp(when), stamp(newest.Intent.Due))
	}
	_, err := r.record(ledger.Record{Kind: ledger.Confirm, Of: newest.Intent.Seq, Design: design, Revision: newest.Intent.Revision, Audience: audience, Channel: newest.Intent.Channel, When: when, Link: link})
	return newest, err
}
