# Tests of tone that hold it against spectra: they need the woods and dyes of the spectral renderer, and where
# open spectra lie beside the tree those too.
foreach(program test_tone_open_films test_tone_exponent test_tone_lamps test_tone_worked)
  target_link_libraries(${program} PRIVATE hw_scene_lib)
endforeach()
