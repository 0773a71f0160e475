# Target `tidy`: clang-tidy over what we ship, the sources of the libraries and of the program, and the headers that they
# include. Sources are looked at again when their objects have been compiled again, so a second run looks only at what has changed.
#
# The sources of a batch (batches.cmake) are looked at as one unit.
# `redefinition of ...`: two of them use a name that was free when the units were laid out; configure again.
find_program(CLANG_TIDY clang-tidy)
find_package(Python3 COMPONENTS Interpreter)
if(NOT CLANG_TIDY OR NOT Python3_FOUND OR NOT CMAKE_GENERATOR MATCHES Ninja)
    return()
endif()
set(stamps "")
foreach(target numerics sim models scenarios studies results rig_session page commands needleturn)
    batches_of(${target} batches)
    get_target_property(source_dir ${target} SOURCE_DIR)
    get_target_property(binary_dir ${target} BINARY_DIR)
    set(units "")
    foreach(batch ${batches})
        string(REPLACE " " ";" batch "${batch}")
        list(LENGTH units number)
        set(unit ${PROJECT_BINARY_DIR}/tidy/${target}_${number}.cpp)
        set(objects "")
        set(text "")
        foreach(source ${batch})
            cmake_path(RELATIVE_PATH source BASE_DIRECTORY ${source_dir} OUTPUT_VARIABLE name)
            list(APPEND objects ${binary_dir}/CMakeFiles/${target}.dir/${name}.o)
            string(APPEND text "#include \"${source}\" // NOLINT(bugprone-suspicious-include)\n")
        endforeach()
        if(NEEDLETURN_BATCHES AND NOT NEEDLETURN_BATCHES STREQUAL tests)
            set(objects ${target}) # the objects are of batches then
        endif()
        file(CONFIGURE OUTPUT ${unit} CONTENT "${text}" @ONLY)
        list(JOIN batch " " batch)
        string(REPLACE "${PROJECT_SOURCE_DIR}/" "" batch "${batch}")
        add_custom_command(OUTPUT ${unit}.stamp
            COMMAND ${CLANG_TIDY} --quiet -p ${PROJECT_BINARY_DIR} ${unit} 2>/dev/null
            COMMAND ${CMAKE_COMMAND} -E touch ${unit}.stamp
            DEPENDS ${objects} ${unit} ${PROJECT_SOURCE_DIR}/.clang-tidy
            COMMENT "clang-tidy ${batch}")
        list(APPEND units ${unit})
        list(APPEND stamps ${unit}.stamp)
    endforeach()
    # Never built: it puts the units into compile_commands.json.
    add_library(units_of_${target} OBJECT EXCLUDE_FROM_ALL ${units})
    get_target_property(libraries ${target} LINK_LIBRARIES)
    target_link_libraries(units_of_${target} PRIVATE ${libraries})
    target_include_directories(units_of_${target} PRIVATE $<TARGET_PROPERTY:${target},INCLUDE_DIRECTORIES>)
    target_compile_definitions(units_of_${target} PRIVATE $<TARGET_PROPERTY:${target},COMPILE_DEFINITIONS>)
endforeach()
add_custom_target(tidy DEPENDS ${stamps})
