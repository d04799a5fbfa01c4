package main

import (
	"crypto/sha256"
	"fmt"
	"io"
	"log"
	"slices"

	"dropwright/bundle/finding"
	"dropwright/series/calendar"
	"dropwright/series/config"
	"dropwright/series/target"
	"dropwright/series/target/blob"
)

// storeOptions are what a store of an audience is opened with. Keys come from the environment and the user's
// own folder; nothing of them is kept.
func (a *app) storeOptions(audience string) blob.Options {
	log.SetOutput(io.Discard) // the uploader prints there what it also returns
	return blob.Options{Getenv: a.getenv, Home: a.home(), Now: a.now, Private: audience != calendar.Public}
}

// home is the user's folder, "" if the environment does not say.
func (a *app) home() string {
	if h := a.getenv("HOME"); h != "" {
		return h
	}
	return a.getenv("USERPROFILE")
}

// badStores are findings about the addresses of stores in a series.yaml. They are judged here because package
// config knows no places.
func badStores(s *config.Series, before []finding.Finding) []finding.Finding {
	if s == nil {
		return nil
	}
	var out []finding.Finding
	for _, c := range s.Channels {
		if slices.ContainsFunc(before, func(f finding.Finding) bool { return f.At == c.To.At }) || !c.To.Set() {
			continue
		}
		addr, err := target.ParseAddress(string(c.To.V))
		switch {
		case err != nil || !c.Links.Set():
		case addr.Scheme != "s3":
			out = append(out, finding.New("value-wrong", c.Links.At, "links are for files in a store, and this channel has none", "write to: \"s3://BUCKET?region=REGION&profile=NAME\", or leave links away"))
		case string(c.Audience.V) == calendar.Public:
			out = append(out, finding.New("value-wrong", c.Links.At, "the public needs no links that die: what is out for it may be read by everybody", "leave links away; url says where readers find the place"))
		case c.Links.V < 1 || c.Links.V > 7:
			out = append(out, finding.New("value-wrong", c.Links.At, fmt.Sprintf("links live from 1 day to 7 days, not %s: stores refuse longer ones", c.Links.V), "write links: 7 days; release --due makes them anew in time"))
		}
		if err != nil {
			out = append(out, finding.New("value-wrong", c.To.At, err.Error(), "write file:FOLDER, hand:FOLDER or s3://BUCKET/PREFIX?region=REGION&profile=NAME"))
		}
	}
	return out
}

// apart refuses channels of different audiences that could write to each other: with one key, or in one place. The
// keys are compared by a hash that does not leave the memory. It sees all channels of the series, because a run
// for one of them can do as much harm.
func (a *app) apart(s *season) error {
	type opened struct {
		channel config.Channel
		store   target.Store
		key     [sha256.Size]byte
		known   bool // a key was found on this machine
	}
	var stores []opened
	for _, c := range s.Config.Channels {
		addr, err := target.ParseAddress(string(c.To.V))
		if err != nil || addr.Scheme != "s3" {
			continue
		}
		o := opened{channel: c, store: addr.Store}
		if keys, err := blob.FindKeys(addr.Store, a.getenv, a.home()); err == nil {
			o.key, o.known = keys.Identity(), true
		}
		for _, other := range stores {
			names := fmt.Sprintf("%s: the channels %s and %s", c.To.At, other.channel.Name.V, c.Name.V)
			switch {
			case o.store.Within(other.store):
				return refused("give each channel a bucket or a prefix of its own, none within another", "%s share a place, %s and %s; nothing was sent", names, other.store, o.store)
			case other.channel.Audience.V != c.Audience.V && o.known && other.known && o.key == other.key:
				return refused("make a key for each at the store, which may write to that channel's place alone, and name them: profile=early, profile=shelf", "%s serve different audiences with the same key: one exchanged line would send early files to the public; nothing was sent", names)
			}
		}
		stores = append(stores, o)
	}
	return nil
}
