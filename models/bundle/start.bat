@echo off
rem What a double click starts: the front desk, where all is said and nothing typed. Only where that can't be, sections are chosen by name.
chcp 65001 >nul
set "program=%~dp0program\stepbell.exe"
"%program%" --version || goto broken
echo It hears what you call, not what you do.
echo.
"%program%" listen && exit /b 0
echo.
echo The spoken front desk ended with what stands above. Typed, it goes on here:
echo.
"%program%" sections || goto broken
:again
set "answer="
echo.
set /p "answer=Name of a section, m to check the microphone, or Enter to end: "
if not defined answer exit /b 0
if /i "%answer%"=="m" ("%program%" microphone & goto again)
if /i "%answer:~0,4%"=="mock" ("%program%" mock "%answer%" & goto again)
"%program%" rehearse "%answer%"
goto again
:broken
echo Stepbell does not start. Unpack the whole download again, and leave its files together.
pause
exit /b 1
