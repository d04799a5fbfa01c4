// Package site is what all generated pages share: a page as a plain value, the policy that keeps a browser from
// fetching anything from elsewhere, links between pages that work from a folder as well as from a server, and
// charts as inline SVG with a table beside them. What stands on a page is said in the packages below it.
//
// Pages do not know where they lie: every link is relative, and a folder's page is written index.html, so that
// the same bytes open by file:// and from a server.
package site
