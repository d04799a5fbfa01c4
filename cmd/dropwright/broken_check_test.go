package main

import (
	"maps"
	"time"

	"dropwright/bundle/check"
)

func init() { maps.Copy(broken, brokenCheck) }

// brokenCheck is the part of the table about files, meshes, texts, licences and what came before. The meshes and
// pictures are made by examples/broken/tools. Names that are no code's are designs that must give nothing, or
// a second way to the same mistake.
var brokenCheck = map[string][]string{
	"bed-common":             {"bed-common 8:38"},
	"board-revision-differs": {"board-revision-differs 4:72"},
	"board-revision-missing": {"board-revision-missing 4:47"},
	"bottom-uneven":          {"bottom-uneven 8:38"},
	"bought-size-differs":    {"bought-size-differs 9:30"},
	"bought-size-missing":    {"bought-size-missing 9:30"},
	"bought-size-prose":      {"bought-size-differs 3:19"}, // in story.md
	"clean-3mf":              nil,
	"file-pointer":           {"file-pointer 8:80"},
	"file-private":           {"file-private 8:80"},
	"file-unlisted":          {"file-unlisted 8:38"},
	"licence-3mf":            {"licence-other 8:38"},
	"licence-other":          {"licence-other 1:25"},
	"licence-partial":        {"licence-partial 4:20"},
	"link-broken":            {"link-broken 3:22", "link-broken 3:75"},
	"material-soft":          {"material-soft 6:24"},
	"mention-unknown":        {"mention-unknown 1:25"},
	"mesh-degenerate":        {"mesh-degenerate 8:38"},
	"mesh-doubled":           {"mesh-doubled 8:38"},
	"mesh-flipped":           {"mesh-flipped 8:38"},
	"mesh-inside-out":        {"mesh-inside-out 8:38"},
	"mesh-off-bed":           {"mesh-off-bed 8:38"},
	"mesh-overshared":        {"mesh-overshared 8:38"},
	"mesh-private":           {"mesh-private 8:38"},
	"mesh-stale":             {"mesh-stale 8:38"},
	"mesh-twice":             {"mesh-twice 9:37"},
	"name-bare":              {"name-bare 8:12"},
	"name-private":           {"name-private 8:80"},
	"pack-unlisted":          {"pack-unlisted 9:30"},
	"part-size-differs":      {"part-size-differs 8:38"},
	"photo-located":          {"photo-located 9:17"},
	"photo-private":          {"photo-private 9:17"},
	"photo-unlocated":        nil, // two photos with an empty block of position fields
	"picture-old":            {"picture-old 9:17"},
	"sell-unclear":           {"sell-unclear 4:10"},
	"setting-unlisted":       {"setting-unlisted 3:15"},
	"settings-3mf":           {"settings-clash 8:38"},
	"settings-clash":         {"settings-clash 8:65"},
	"shell-extra":            {"shell-extra 8:38"},
	"shell-floating":         {"shell-floating 8:38"},
	"shell-inside":           {"shell-inside 8:38"},
	"shell-overlap":          {"shell-overlap 8:38"},
	"shell-scrap":            {"shell-floating 8:38"}, // in an open trough
	"shell-touching":         nil,
	"shell-void":             nil, // a sealed cavity
	"side-missing":           {"side-missing 8:12"},
	"side-twice":             {"side-twice 9:45"},
	"side-unmirrored":        {"side-unmirrored 9:45"},
	"sides-right":            nil, // a pair that is one
	"small-on-purpose":       nil, // small, and its size is stated
	"source-clash":           {"source-clash 9:65"},
	"source-share":           {"source-clash 9:65"},
	"source-unlicensed":      {"source-unlicensed 9:11"},
	"stand-better":           {"stand-better 8:38"},
	"stand-poor":             {"stand-poor 8:38"},
	"terms-extra":            {"terms-extra 5:14"},
	"title-twice":            {"title-twice 9:79"},
	"trial-failed":           {"trial-failed 8:38"},
	"trial-missing":          {"trial-missing 8:38"},
	"trial-old":              {"trial-old 8:38"},
	"unit-suspect":           {"unit-suspect 8:38"},
	"unit-wrong":             {"unit-wrong 8:38"},
	"variant-idle":           {"variant-same 4:48"},
	"variant-same":           {"variant-same 9:70"},
	"wall-slender":           {"wall-slender 8:38"},
	"wall-thin":              {"wall-thin 8:38"},
}

// brokenPast is what came before a broken design; the others have no past.
var brokenPast = map[string]check.Past{
	"picture-old": {Ages: map[string]check.Age{"meshes/hook.stl": day(7), "photos/front.png": day(5)}},
	"mesh-stale":  {Ages: map[string]check.Age{"meshes/hook.stl": day(5), "photos/front.png": day(5), "cad/hook.scad": {Pending: true}}},
	"trial-old":   {Trials: []check.Trial{{Part: "hook", Mesh: "another", Accepted: true}}},
	"trial-failed": {Trials: []check.Trial{{Part: "hook", Mesh: hookMesh, Accepted: true}, {Part: "hook", Mesh: "another", Accepted: true},
		{Part: "hook", Mesh: hookMesh}}},
	"trial-missing": {Trials: []check.Trial{{Part: "peg", Mesh: "another", Accepted: true}}},
	"clean":         {Trials: []check.Trial{{Part: "hook", Mesh: "another"}, {Part: "hook", Mesh: hookMesh, Accepted: true}}},
}

func day(d int) check.Age { return check.Age{At: time.Date(2027, 1, d, 12, 0, 0, 0, time.UTC)} }

// hookMesh is the SHA-256 of the clean design's mesh.
const hookMesh = "40325f8fbefa257db43d235dbe96cf2358c2aaa89d85ae0ef6d102d021e71315"
