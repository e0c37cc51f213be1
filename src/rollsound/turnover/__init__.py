"""What leaves the truck: names, reports, manifest, folder."""
