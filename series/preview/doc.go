// Package preview serves the maker's pages to the maker's own browser, and tells it when a file changed.
//
// It listens on loopback only (RFC 1122, section 3.2.1.3; RFC 4291, section 2.5.3), answers GET and HEAD, and answers
// only to names of loopback: a page from elsewhere whose name was made to point here (DNS rebinding) gets 421. It
// serves what a Site prints, never a file by its path. Every answer carries a policy that forbids the browser to
// fetch anything from elsewhere.
//
// What is watched is the series' folder. A change is said to the pages that were made from it, over server-sent
// events; deciding what a change means for a page is done here, by the page's path, so that a page of one design does
// not reload for another.
package preview
