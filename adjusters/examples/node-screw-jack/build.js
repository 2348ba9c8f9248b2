'use strict';
// Makes one file of the program and all that it uses: one file is what goes into the folder of adjusters,
// and its checksum is the checksum of everything that runs.
require('esbuild').buildSync({
  entryPoints: ['main.js'], outfile: 'dist/screw-jack',
  bundle: true, platform: 'node', target: 'node18', loader: { '.proto': 'text' },
  banner: { js: '#!/usr/bin/env node' }, legalComments: 'inline',
});
require('node:fs').chmodSync('dist/screw-jack', 0o755);
