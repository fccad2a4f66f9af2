"""The practice darkroom as pages see it: hands, scene, tray."""
