// Package page holds the page that a technician works with, as it stands in app/: no build step, nothing from
// elsewhere. Whoever serves it asks Files for every file with its path, type, bytes and hash. It computes nothing of
// leveling; it speaks to the service's JSON API like any other client.
package page
